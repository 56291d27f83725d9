package report

import (
	"sightrail/qa"
)

// geoPrinter prints features, with what stands between two features before each.
type geoPrinter struct {
	g       geoWriter // with a buffer of its own, and features alone
	between string
	pattern pattern // where columns are asked for
}

func (g *geoWriter) printer() rowPrinter {
	p := &geoPrinter{g: *g, between: nextFeature}
	p.g.buf, p.g.e, p.g.n = nil, nil, nil
	if g.lines {
		p.between = "\n"
	}
	return p
}

func (g *geoWriter) printed(text []byte) error {
	if g.first && len(text) > 0 { // nothing stands before the first but a line end
		g.first = false
		text = text[1:]
	}
	return writePrinted(g.w, &g.buf, text)
}

func (p *geoPrinter) row(b []byte, r *qa.Row) []byte {
	p.g.buf = append(b, p.between...)
	p.g.feature(r)
	b, p.g.buf = p.g.buf, nil
	return b
}

// inGrid tells whether the coordinates of features are easting and northing.
func (p *geoPrinter) inGrid() bool { return p.g.grid && p.g.res.Frame.EPSG != "" }

func (p *geoPrinter) like(r *qa.Row) {
	p.pattern = pattern{}
	if p.g.columns == nil || !p.inGrid() {
		return
	}
	easting, northing := columnNamed("easting"), columnNamed("northing")
	p.pattern.text(p.between + `{"type":"Feature","geometry":{"type":"Point","coordinates":[`)
	p.pattern.column(easting, p.g.tell, r, true)
	p.pattern.text(",")
	p.pattern.column(northing, p.g.tell, r, true)
	p.pattern.text(`]},"properties":{`)
	for i := range p.g.columns {
		p.pattern.text(p.g.heads[i])
		p.pattern.column(&p.g.columns[i], p.g.tell, r, true)
	}
	p.pattern.text("}}")
}

func (p *geoPrinter) alike(b []byte, r *qa.Row, as *told) []byte {
	if p.pattern.parts == nil {
		return p.row(b, r)
	}
	return p.pattern.append(b, p.g.tell, r, as)
}

// columnNamed is a column by its name.
func columnNamed(name string) *column {
	for i := range columns {
		if columns[i].name == name {
			return &columns[i]
		}
	}
	return nil
}
