package report

import (
	"strconv"
	"strings"

	"sightrail/formats/gpkg"
	"sightrail/qa"
)

// registerHeads are the headings of the workbook, in the words of the trade.
var registerHeads = map[qa.Column]string{qa.ColNumber: "Number", qa.ColStatus: "Status", qa.ColStanding: "How it stands", qa.ColOpened: "Opened", qa.ColCheck: "Check", qa.ColElement: "Element",
	qa.ColLot: "Lot", qa.ColWhat: "What", qa.ColSide: "Side", qa.ColExtent: "Extent", qa.ColArea: "Area (m²)", qa.ColPoints: "Points", qa.ColWorst: "Worst", qa.ColWorstAt: "Read from",
	qa.ColMean: "Mean (mm)", qa.ColAction: "Action (mm, to design)", qa.ColVolume: "Volume (m³)", qa.ColVolumeBy: "Volume worked out by", qa.ColDisposition: "Disposition", qa.ColDecidedBy: "Decided by",
	qa.ColDecidedOn: "Decided on", qa.ColReason: "Reason", qa.ColConcession: "Concession", qa.ColClosedBy: "Closed by", qa.ColClosedOn: "Closed on", qa.ColLies: "Lies", qa.ColOutline: "Outline"}

var registerWidths = map[qa.Column]float64{qa.ColStanding: 44, qa.ColCheck: 20, qa.ColElement: 18, qa.ColExtent: 24, qa.ColWorst: 22, qa.ColWorstAt: 22, qa.ColAction: 30, qa.ColVolumeBy: 26,
	qa.ColDisposition: 18, qa.ColDecidedBy: 16, qa.ColReason: 26, qa.ColConcession: 36, qa.ColClosedBy: 30, qa.ColOutline: 60}

// numeric are the columns that are numbers in a workbook.
var numeric = map[qa.Column]bool{qa.ColArea: true, qa.ColPoints: true, qa.ColMean: true, qa.ColVolume: true}

// register is the sheet Register.
func (b *book) register() error {
	g := b.res.Register
	if g == nil {
		return nil
	}
	var widths []float64
	for _, c := range qa.Columns {
		widths = append(widths, max(11, registerWidths[c]))
	}
	for range g.Extra {
		widths = append(widths, 16)
	}
	s, err := b.sheet("Register", widths, 1)
	if err != nil {
		return err
	}
	n := 0
	var heads []any
	for _, c := range qa.Columns {
		heads = append(heads, b.cell("head", registerHeads[c]))
	}
	for _, h := range g.Extra {
		heads = append(heads, b.text("head", h))
	}
	if err := row(s, &n, heads...); err != nil {
		return err
	}
	for _, e := range g.Entries {
		var cells []any
		for _, c := range qa.Columns {
			text := e.Text(c)
			v, err := strconv.ParseFloat(strings.TrimPrefix(text, "+"), 64)
			switch {
			case numeric[c] && err == nil:
				cells = append(cells, b.cell("cell", v))
			case c == qa.ColStatus && e.Open():
				cells = append(cells, b.cell("fail", text))
			default:
				cells = append(cells, b.text("cell", text))
			}
		}
		for _, x := range e.Extra {
			cells = append(cells, b.text("cell", x))
		}
		if err := row(s, &n, cells...); err != nil {
			return err
		}
	}
	return s.Flush()
}

// rounds is the sheet Rework: what newer shots took the place of.
func (b *book) rounds() error {
	if b.res.RoundCount == 0 {
		return nil
	}
	s, err := b.sheet("Rework", []float64{22, 14, 12, 8, 16, 24, 14, 12, 8, 16, 24}, 1)
	if err != nil {
		return err
	}
	n := 0
	var heads []any
	for _, h := range []string{"Check", "Older shot", "Day", "Round", "Result (mm)", "Read from", "Newer shot", "Day", "Round", "Result (mm)", "Read from"} {
		heads = append(heads, b.cell("head", h))
	}
	if err := row(s, &n, heads...); err != nil {
		return err
	}
	for i := range b.res.Rounds {
		r := &b.res.Rounds[i]
		cells := []any{b.text("cell", b.res.Checks[r.Check].Common.Name)}
		for _, x := range []*qa.Seen{&r.Old, &r.New} {
			var round any
			if x.Round > 0 {
				round = x.Round
			}
			cells = append(cells, b.text("cell", x.Point), b.cell("cell", string(x.Day)), b.cell("cell", round), b.text("cell", x.Result), b.text("cell", x.Pos.String()))
		}
		if err := row(s, &n, cells...); err != nil {
			return err
		}
	}
	if more := b.res.RoundCount - len(b.res.Rounds); more > 0 {
		if err := row(s, &n, b.cell("open", strconv.Itoa(more)+" more: results.csv holds every row")); err != nil {
			return err
		}
	}
	return s.Flush()
}

// patchLayer is the layer of the nonconformances in a GeoPackage.
var patchLayer = gpkg.Layer{Name: "patches", Title: "Nonconformances", Description: "Outlines of failing neighbours by day, in the numbers of register.csv. One shot, shots in a line and results along a pipe have no area and no geometry here; their points are in the layer failures.",
	Geometry: gpkg.Polygon, Columns: []gpkg.Column{{Name: "ncr_no", Type: gpkg.Text}, {Name: "status", Type: gpkg.Text}, {Name: "standing", Type: gpkg.Text}, {Name: "found_on", Type: gpkg.Text},
		{Name: "opened", Type: gpkg.Text}, {Name: "check_name", Type: gpkg.Text}, {Name: "element", Type: gpkg.Text}, {Name: "lot", Type: gpkg.Text}, {Name: "quantity", Type: gpkg.Text},
		{Name: "side", Type: gpkg.Text}, {Name: "extent", Type: gpkg.Text}, {Name: "points", Type: gpkg.Text}, {Name: "worst", Type: gpkg.Text}, {Name: "mean_mm", Type: gpkg.Text},
		{Name: "action_mm", Type: gpkg.Text}, {Name: "volume_m3", Type: gpkg.Text}, {Name: "disposition", Type: gpkg.Text}, {Name: "concession", Type: gpkg.Text}, {Name: "closed_on", Type: gpkg.Text}}}

// patches writes the nonconformances, a feature for each day that one was found on.
func (g *gpkgWriter) patches(res *qa.Result) error {
	if res.Register == nil {
		return nil
	}
	for _, e := range res.Register.Entries {
		found := e.InPlan()
		if len(found) == 0 {
			found = []qa.Found{{}}
		}
		for _, f := range found {
			var rings [][]gpkg.XY
			if len(f.Outline) > 2 {
				var ring []gpkg.XY
				for _, p := range append(f.Outline[:len(f.Outline):len(f.Outline)], f.Outline[0]) {
					ring = append(ring, g.xy(p))
				}
				rings = append(rings, ring)
			}
			t := e.Text
			if err := g.f.Insert("patches", rings, []gpkg.Value{t(qa.ColNumber), text(t(qa.ColStatus)), text(t(qa.ColStanding)), text(string(f.Day)), text(t(qa.ColOpened)), text(t(qa.ColCheck)),
				text(t(qa.ColElement)), text(t(qa.ColLot)), text(t(qa.ColWhat)), text(t(qa.ColSide)), text(t(qa.ColExtent)), text(t(qa.ColPoints)), text(t(qa.ColWorst)), text(t(qa.ColMean)),
				text(t(qa.ColAction)), text(t(qa.ColVolume)), text(t(qa.ColDisposition)), text(t(qa.ColConcession)), text(t(qa.ColClosedOn))}); err != nil {
				return err
			}
		}
	}
	return nil
}
