package table

import (
	"reflect"
	"strconv"
	"strings"

	"github.com/jszwec/csvutil"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// bookLine is a row of a level book as it is written. Tag csv is the heading;
// tag in is the unit of the column: that of the table, or that of the sights.
// Columns without always are written where some row fills them.
type bookLine struct {
	Point       string `csv:"Point" always:"yes"`
	BS          string `csv:"BS" in:"table" always:"yes"`
	IS          string `csv:"IS" in:"table" always:"yes"`
	FS          string `csv:"FS" in:"table" always:"yes"`
	BSUpper     string `csv:"BS upper" in:"table"`
	BSLower     string `csv:"BS lower" in:"table"`
	ISUpper     string `csv:"IS upper" in:"table"`
	ISLower     string `csv:"IS lower" in:"table"`
	FSUpper     string `csv:"FS upper" in:"table"`
	FSLower     string `csv:"FS lower" in:"table"`
	BSMean      string `csv:"BS mean" in:"table"`
	ISMean      string `csv:"IS mean" in:"table"`
	FSMean      string `csv:"FS mean" in:"table"`
	Rise        string `csv:"Rise" in:"table"`
	Fall        string `csv:"Fall" in:"table"`
	Collimation string `csv:"Collimation" in:"table"`
	Level       string `csv:"Level" in:"table"`
	Known       string `csv:"Known" in:"table"`
	Distance    string `csv:"Distance" in:"sight"`
	DistanceBS  string `csv:"Distance BS" in:"sight"`
	DistanceFS  string `csv:"Distance FS" in:"sight"`
	Inverted    string `csv:"Inverted"`
	Code        string `csv:"Code"`
	Staffed     string `csv:"Staffed"`
	Run         string `csv:"Run"`
	Chainage    string `csv:"Chainage" in:"table"`
	Offset      string `csv:"Offset" in:"table"`
	Staff       string `csv:"Staff"`
	Setup       string `csv:"Set-up"`
	Time        string `csv:"Time"`
	Page        string `csv:"Page"`
	Remark      string `csv:"Remark"`
}

// pointLine is a point as it is written; its tags are those of bookLine.
type pointLine struct {
	Point       string `csv:"Point" always:"yes"`
	Easting     string `csv:"Easting" in:"table" always:"yes"`
	Northing    string `csv:"Northing" in:"table" always:"yes"`
	Level       string `csv:"Level" in:"table" always:"yes"`
	Reading     string `csv:"Reading" in:"table"`
	Receiver    string `csv:"Receiver" in:"table"`
	Chainage    string `csv:"Chainage" in:"table"`
	Offset      string `csv:"Offset" in:"table"`
	Code        string `csv:"Code"`
	Layer       string `csv:"Layer"`
	Run         string `csv:"Run"`
	Staffed     string `csv:"Staffed"`
	Setup       string `csv:"Set-up"`
	Time        string `csv:"Time"`
	Description string `csv:"Description"`
}

func reading(r formats.Reading) string {
	switch {
	case !r.Set:
		return ""
	case r.Bracket:
		return "(" + r.Value.String() + ")"
	}
	return r.Value.String()
}

func decimal(d unit.Decimal, set bool) string {
	if !set {
		return ""
	}
	return d.String()
}

func lineOfBook(r *formats.BookRow) bookLine {
	l := bookLine{Point: r.Point, BS: reading(r.BS), IS: reading(r.IS), FS: reading(r.FS), Level: reading(r.Level), Known: reading(r.Known), Code: r.Code, Remark: r.Remark}
	if f := r.RowFigures; f != nil {
		l.Rise, l.Fall, l.Collimation = reading(f.Rise), reading(f.Fall), reading(f.Collimation)
		l.Distance, l.DistanceBS, l.DistanceFS = reading(f.Distance), reading(f.DistanceBS), reading(f.DistanceFS)
	}
	if w := r.RowWires; w != nil {
		l.BSUpper, l.BSLower, l.BSMean = reading(w.WiresBS.Upper), reading(w.WiresBS.Lower), reading(w.WiresBS.Mean)
		l.ISUpper, l.ISLower, l.ISMean = reading(w.WiresIS.Upper), reading(w.WiresIS.Lower), reading(w.WiresIS.Mean)
		l.FSUpper, l.FSLower, l.FSMean = reading(w.WiresFS.Upper), reading(w.WiresFS.Lower), reading(w.WiresFS.Mean)
	}
	if n := r.RowNotes; n != nil {
		l.Staffed, l.Run, l.Staff, l.Setup, l.Time = n.Staffed, n.Run, n.Staff, n.Setup, n.Time
		l.Chainage, l.Offset = reading(n.Chainage), reading(n.Offset)
	}
	if r.Page > 0 {
		l.Page = strconv.Itoa(r.Page)
	}
	if r.Inverted {
		l.Inverted = "yes"
	}
	return l
}

func lineOfPoint(p *formats.Point) pointLine {
	return pointLine{Point: p.ID, Easting: decimal(p.E, p.Placed), Northing: decimal(p.N, p.Placed), Level: decimal(p.Z, p.Levelled),
		Reading: reading(p.Reading), Receiver: reading(p.Receiver),
		Chainage: decimal(p.Chainage, p.Chained), Offset: decimal(p.Offset, p.Chained), Code: p.Code, Layer: p.Layer, Run: p.Run, Staffed: p.Staffed,
		Setup: p.Setup, Time: p.Time, Description: p.Desc}
}

// Grid is a table to write: headings first, then a row a record.
type Grid struct {
	Name   string
	Number []bool // columns of numbers
	Rows   [][]string
}

// Write takes a record from the encoder, which reuses it.
func (g *Grid) Write(record []string) error {
	g.Rows = append(g.Rows, append([]string(nil), record...))
	return nil
}

// Grids writes the books and points of a document as tables, with headings
// that name the unit.
func Grids(d *formats.Document, opt formats.EncodeOptions) ([]Grid, error) {
	or := func(u unit.Unit) unit.Unit {
		if u.Known() {
			return u
		}
		return opt.Unit
	}
	var out []Grid
	for i := range d.Books {
		b := &d.Books[i]
		keep := map[string]bool{"Inverted": b.HasFlag}
		g, err := gridOf(b.Name, b.Rows, lineOfBook, keep, map[string]unit.Unit{"table": or(b.Unit), "sight": b.DistIn})
		if err != nil {
			return nil, err
		}
		out = append(out, g)
	}
	if len(d.Points) > 0 || len(d.Books) == 0 {
		g, err := gridOf("Points", d.Points, lineOfPoint, nil, map[string]unit.Unit{"table": or(d.Units.Linear)})
		if err != nil {
			return nil, err
		}
		out = append(out, g)
	}
	return out, nil
}

// gridOf encodes records by their tagged lines, leaves out columns that nothing
// fills, and puts the units into the headings.
func gridOf[R, L any](name string, records []R, line func(*R) L, keep map[string]bool, units map[string]unit.Unit) (Grid, error) {
	g := Grid{Name: name}
	enc := csvutil.NewEncoder(&g)
	var none L
	if err := enc.EncodeHeader(none); err != nil {
		return g, err
	}
	for i := range records {
		if err := enc.Encode(line(&records[i])); err != nil {
			return g, err
		}
	}
	t := reflect.TypeFor[L]()
	used := make([]bool, t.NumField())
	for k := range used {
		used[k] = t.Field(k).Tag.Get("always") != "" || keep[t.Field(k).Tag.Get("csv")]
		for i := 1; i < len(g.Rows) && !used[k]; i++ {
			used[k] = g.Rows[i][k] != ""
		}
	}
	for k := range used {
		if !used[k] {
			continue
		}
		in := t.Field(k).Tag.Get("in")
		g.Number = append(g.Number, in != "")
		if u := units[in]; u.Known() {
			g.Rows[0][k] = strings.TrimSpace(g.Rows[0][k]) + " (" + u.Name + ")"
		}
	}
	for i, row := range g.Rows {
		kept := row[:0]
		for k, cell := range row {
			if used[k] {
				kept = append(kept, cell)
			}
		}
		g.Rows[i] = kept
	}
	return g, nil
}
