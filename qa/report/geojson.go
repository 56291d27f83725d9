package report

import (
	"encoding/json"
	"io"
	"strconv"
	"strings"

	"sightrail/convert"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/limits"
)

// GeoJSON is results.geojson: a feature for every row, a line each, by RFC 7946:
// longitude and latitude of WGS 84 with nine decimals. A place that has none, on a
// local grid or for want of a datum shift, is null, and the feature says why.
// Easting and northing stand in the properties as they are. On request the
// coordinates are those of the job's grid, named by the crs member of the 2008
// GeoJSON. Numbers are numbers, what is missing is null, and a property has one
// type in the whole file.
var GeoJSON = &Kind{Name: "geojson", File: "results.geojson", Doc: "every row as a feature, for a GIS", Start: startGeoJSON}

// GeoJSONLines is results.geojsonl: the same features, a line each and nothing
// around them, for programs that read large results as they come.
var GeoJSONLines = &Kind{Name: "geojsonl", File: "results.geojsonl", Doc: "the features of the GeoJSON by themselves, a line each, for large results", Start: startGeoJSONLines, Asked: true}

type geoWriter struct {
	w     io.Writer
	res   *qa.Result
	buf   []byte
	first bool
	lines bool   // nothing around the features
	grid  bool   // coordinates of the job's grid
	tail  []byte // properties that are the same in every feature
	// columns are the properties where the job asks for columns by name; tell
	// prints them
	columns []column
	heads   []string // of their properties: `,"point":`
	tell    *teller
	e, n    []byte // easting and northing in print
}

func startGeoJSONLines(w io.Writer, head *qa.Result) (Writer, error) {
	g, err := newGeoWriter(w, head)
	if err != nil {
		return nil, err
	}
	g.lines = true
	return g, nil
}

func newGeoWriter(w io.Writer, head *qa.Result) (*geoWriter, error) {
	g := &geoWriter{w: w, res: head, first: true, grid: head.GridOnly, tell: newTeller(head)}
	if len(head.Columns) > 0 {
		all, err := chosenColumns(head.Columns)
		g.columns = []column{} // there may be none but the place
		for _, c := range all {
			// in the grid the coordinates are easting and northing themselves
			if !g.grid || head.Frame.EPSG == "" || c.name != "easting" && c.name != "northing" {
				g.columns = append(g.columns, c)
				g.heads = append(g.heads, strings.TrimPrefix(`,"`+c.name+`":`, map[bool]string{true: ","}[len(g.heads) == 0]))
			}
		}
		return g, err
	}
	f := &head.Frame
	for _, x := range [][2]string{{"lot", head.Job.Lot}, {"h_crs", f.Grid}, {"v_datum", f.Datum}, {"unit", f.Unit.Name}, {"design_rev", head.Job.Revision}, {"report_no", head.Job.ReportNo},
		{"hold_point", head.Job.HoldPoint}, {"observed_on", head.Job.SurveyDate}, {"observed_by", head.Job.People.Observer}, {"checked_by", head.Job.People.Checker}, {"tool_version", "sightrail " + head.Version}} {
		g.tail = append(g.tail, ',')
		g.tail = quoteJSON(g.tail, x[0])
		g.tail = append(g.tail, ':')
		g.tail = textOrNull(g.tail, x[1])
	}
	g.tail = append(g.tail, `,"h_accuracy_m":`...)
	if m := head.Earth.Metres(); m > 0 && !g.grid {
		g.tail = strconv.AppendFloat(g.tail, m, 'f', -1, 64)
	} else {
		g.tail = append(g.tail, "null"...)
	}
	return g, nil
}

func startGeoJSON(w io.Writer, head *qa.Result) (Writer, error) {
	g, err := newGeoWriter(w, head)
	if err != nil {
		return nil, err
	}
	f := &head.Frame
	g.buf = append(g.buf, `{"type":"FeatureCollection","name":"results",`...)
	note := "Longitude and latitude, " + head.Earth.Words() + ". Easting and northing in the grid of the job, and levels, stand in the properties."
	switch {
	case f.EPSG == "" && (g.grid || head.Earth.Why() != ""):
		note = "Places are in the local grid " + head.Job.Grid.Name + " and stand in the properties; there is no geometry, because the grid has no code."
	case g.grid:
		g.buf = append(append(append(g.buf, `"crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:EPSG::`...), f.EPSG...), `"}},`...)
		note = "Coordinates are easting, northing of EPSG:" + f.EPSG + ", named by the crs member of the 2008 GeoJSON; they are not longitude and latitude. Levels stand in the properties."
	case head.Earth.Why() != "":
		note = "There is no geometry: " + head.Earth.Why() + ". Easting and northing stand in the properties."
	}
	g.buf = append(g.buf, `"note":`...)
	g.buf = quoteJSON(g.buf, note)
	g.buf = append(g.buf, `,"features":[`...)
	return g, nil
}

func (g *geoWriter) Rows(rows []qa.Row) error {
	for i := range rows {
		g.buf = append(g.buf, g.between()...)
		g.feature(&rows[i])
		if len(g.buf) > csvFlush {
			if err := g.flush(); err != nil {
				return err
			}
		}
	}
	return nil
}

// between is what stands before the next feature.
func (g *geoWriter) between() string {
	first := g.first
	g.first = false
	switch {
	case g.lines && first:
		return ""
	case g.lines || first:
		return "\n"
	}
	return nextFeature
}

// nextFeature stands between two features of a collection.
const nextFeature = ",\n"

func (g *geoWriter) flush() error {
	_, err := g.w.Write(g.buf)
	g.buf = g.buf[:0]
	return err
}

func (g *geoWriter) Close(*qa.Result) error {
	if g.lines {
		if !g.first {
			g.buf = append(g.buf, '\n')
		}
		return g.flush()
	}
	g.buf = append(g.buf, "\n]}\n"...)
	return g.flush()
}

func (g *geoWriter) key(name string) {
	g.buf = append(append(append(g.buf, `,"`...), name...), `":`...)
}

func (g *geoWriter) text(name, s string) { g.key(name); g.buf = textOrNull(g.buf, s) }

func (g *geoWriter) number(name string, set bool, l unit.Length, u unit.Unit, least int) {
	g.key(name)
	if !set {
		g.buf = append(g.buf, "null"...)
		return
	}
	g.buf = l.AppendExact(g.buf, u, least)
}

// asked writes the properties that were asked for by name.
func (g *geoWriter) asked(r *qa.Row) {
	g.buf = append(g.buf, `,"properties":{`...)
	for i := range g.columns {
		g.buf = g.columns[i].appendJSON(append(g.buf, g.heads[i]...), g.tell, r)
	}
	g.buf = append(g.buf, "}}"...)
}

func (g *geoWriter) feature(r *qa.Row) {
	f, s := &g.res.Frame, &r.Shot
	g.e, g.n = g.e[:0], g.n[:0]
	if s.Placed {
		g.e, g.n = f.AppendEasting(g.e, s.Place, 3), f.AppendNorthing(g.n, s.Place, 3)
	}
	g.buf = append(g.buf, `{"type":"Feature","geometry":`...)
	odd := ""
	switch {
	case !s.Placed || g.grid && f.EPSG == "":
		g.buf = append(g.buf, "null"...)
	case g.grid:
		g.buf = append(append(append(append(append(g.buf, `{"type":"Point","coordinates":[`...), g.e...), ','), g.n...), "]}"...)
	default:
		odd = g.point(s.Place)
	}
	if g.columns != nil {
		g.asked(r)
		return
	}
	g.buf = append(g.buf, `,"properties":{"point_id":`...)
	g.buf = textOrNull(g.buf, s.ID)
	g.text("feature_code", s.Code)
	check, element := "", ""
	if r.Check >= 0 {
		check, element = g.res.Checks[r.Check].Common.Name, g.res.Checks[r.Check].Common.Element
	}
	g.text("check", check)
	g.text("element", element)
	g.text("lot", s.Lot)
	g.text("quantity", string(r.Quantity))
	g.text("result", VerdictWord(r))
	g.text("row_use", useWord(r))
	levels := r.Compared && r.Quantity.Levels()
	g.number("design_level", levels, r.Design, f.Unit, 3)
	g.number("measured_level", levels || !r.Derived && s.Levelled, builtLevel(r), f.Unit, 3)
	g.number("diff_mm", r.Compared, r.Diff, unit.MM, 0)
	g.plain("u_mm", uncertainty(r))
	g.number("tol_low_mm", r.Limits.HasLower, r.Limits.Lower, unit.MM, 0)
	g.number("tol_high_mm", r.Limits.HasUpper, r.Limits.Upper, unit.MM, 0)
	g.number("beyond_mm", r.Verdict == limits.Fail && r.Beyond != 0, r.Beyond, unit.MM, 0)
	g.text("cut_fill", r.Action)
	g.number("arrow_mm", levels, -r.Diff, unit.MM, 0)
	g.text("reason", r.Reason)
	g.text("note", r.Note)
	g.text("ncr_no", ncrNo(r))
	g.text("status", ncrStatus(r))
	g.text("supersedes", supersedes(r))
	g.text("concession", conceded(r))
	grade, design := "", ""
	if r.Graded() {
		design, grade = r.GradeWords()
	}
	g.text("design_grade", design)
	g.text("built_grade", grade)
	g.text("pipe", r.Pipe)
	g.number("along", r.OnPipe, r.Along, f.Unit, 3)
	g.number("chainage", s.Chained, s.Chainage, f.Unit, 3)
	g.number("offset", s.Chained, s.Offset, f.Unit, 3)
	g.plain("easting", string(g.e))
	g.plain("northing", string(g.n))
	g.text("design_at", r.Origin())
	g.text("tol_source", r.Limits.Source)
	g.text("source_file", s.Pos.File)
	g.text("source_part", s.Pos.Part)
	g.key("source_row")
	if s.Pos.Row > 0 {
		g.buf = strconv.AppendInt(g.buf, int64(s.Pos.Row), 10)
	} else {
		g.buf = append(g.buf, "null"...)
	}
	g.text("source_cell", s.Pos.Cell())
	g.text("place_note", odd)
	g.buf = append(append(g.buf, g.tail...), "}}"...)
}

// decimalsOfDegree print a tenth of a millimetre of latitude.
const decimalsOfDegree = 9

// point writes longitude and latitude, or null, and returns what is odd about them.
func (g *geoWriter) point(p convert.Place) string {
	lon, lat, ok, odd := g.res.Earth.Place(&g.res.Frame, p)
	if !ok {
		g.buf = append(g.buf, "null"...)
		return odd
	}
	g.buf = append(g.buf, `{"type":"Point","coordinates":[`...)
	g.buf = strconv.AppendFloat(g.buf, lon, 'f', decimalsOfDegree, 64)
	g.buf = append(g.buf, ',')
	g.buf = strconv.AppendFloat(g.buf, lat, 'f', decimalsOfDegree, 64)
	g.buf = append(g.buf, "]}"...)
	return odd
}

// builtLevel is the level that a row compared, else that of its shot.
func builtLevel(r *qa.Row) unit.Length {
	if r.Quantity.Levels() {
		return measured(r)
	}
	return r.Shot.Level
}

func measured(r *qa.Row) unit.Length {
	if r.Compared {
		return r.Measured
	}
	return r.Shot.Level
}

func (g *geoWriter) plain(name, number string) {
	g.key(name)
	if number == "" {
		number = "null"
	}
	g.buf = append(g.buf, number...)
}

func textOrNull(b []byte, s string) []byte {
	if s == "" {
		return append(b, "null"...)
	}
	return quoteJSON(b, s)
}

// quoteJSON appends a JSON string. Plain ASCII needs no escaping; the rest is
// left to encoding/json.
func quoteJSON(b []byte, s string) []byte {
	plain := true
	for i := 0; i < len(s) && plain; i++ {
		plain = s[i] >= ' ' && s[i] < 0x7f && s[i] != '"' && s[i] != '\\' && s[i] != '<' && s[i] != '>' && s[i] != '&'
	}
	if plain {
		return append(append(append(b, '"'), s...), '"')
	}
	q, err := json.Marshal(s)
	if err != nil {
		return append(b, "null"...) // a string always marshals
	}
	return append(b, q...)
}
