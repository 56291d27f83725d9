package report

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"sightrail/convert"
	"sightrail/formats/gpkg"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/limits"
)

// GeoPackage is results.gpkg: points, failures and pipes as layers with typed
// columns, in the job's grid, and a table that says where they come from. On a
// local grid coordinates are in the local frame. Numbers that must be exact are in
// results.csv.
var GeoPackage = &Kind{Name: "gpkg", File: "results.gpkg", Doc: "points, failures and pipes as layers for a GIS", Start: noPath, StartFile: startGeoPackage}

func noPath(io.Writer, *qa.Result) (Writer, error) {
	return nil, fmt.Errorf("a GeoPackage is written to a file by name only")
}

type gpkgWriter struct {
	f   *gpkg.File
	res *qa.Result
	row []gpkg.Value
	pos [][]gpkg.XY
}

var gpkgColumns = []gpkg.Column{{Name: "point_id", Type: gpkg.Text}, {Name: "feature_code", Type: gpkg.Text}, {Name: "check_name", Type: gpkg.Text}, {Name: "element", Type: gpkg.Text}, {Name: "lot", Type: gpkg.Text},
	{Name: "quantity", Type: gpkg.Text}, {Name: "result", Type: gpkg.Text}, {Name: "row_use", Type: gpkg.Text}, {Name: "design_level", Type: gpkg.Real}, {Name: "measured_level", Type: gpkg.Real},
	{Name: "diff_mm", Type: gpkg.Real}, {Name: "u_mm", Type: gpkg.Real}, {Name: "tol_low_mm", Type: gpkg.Real}, {Name: "tol_high_mm", Type: gpkg.Real}, {Name: "beyond_mm", Type: gpkg.Real},
	{Name: "cut_fill", Type: gpkg.Text}, {Name: "reason", Type: gpkg.Text}, {Name: "note", Type: gpkg.Text}, {Name: "ncr_no", Type: gpkg.Text}, {Name: "status", Type: gpkg.Text}, {Name: "supersedes", Type: gpkg.Text}, {Name: "concession", Type: gpkg.Text}, {Name: "pipe", Type: gpkg.Text}, {Name: "along", Type: gpkg.Real}, {Name: "easting", Type: gpkg.Text}, {Name: "northing", Type: gpkg.Text},
	{Name: "design_at", Type: gpkg.Text}, {Name: "tol_source", Type: gpkg.Text}, {Name: "source_file", Type: gpkg.Text}, {Name: "source_cell", Type: gpkg.Text}}

var pipeColumns = []gpkg.Column{{Name: "pipe", Type: gpkg.Text}, {Name: "upstream", Type: gpkg.Text}, {Name: "downstream", Type: gpkg.Text}, {Name: "upstream_invert", Type: gpkg.Real},
	{Name: "downstream_invert", Type: gpkg.Real}, {Name: "length", Type: gpkg.Real}, {Name: "design_grade", Type: gpkg.Text}, {Name: "bore_mm", Type: gpkg.Real}, {Name: "design", Type: gpkg.Text}}

func startGeoPackage(path string, head *qa.Result) (Writer, error) {
	system := gpkg.System{ID: gpkg.UndefinedCartesian}
	if code, err := strconv.Atoi(head.Frame.EPSG); err == nil {
		system = gpkg.System{ID: code, Name: head.Frame.Grid}
	}
	f, err := gpkg.Create(path, system, changed(head.Job.SurveyDate))
	if err != nil {
		return nil, err
	}
	g := &gpkgWriter{f: f, res: head}
	about := fmt.Sprintf("%s. Levels in %s, height datum %s; differences in mm, as-built minus design, + is high. Grid %s.", head.Job.Project, head.Frame.Unit.Word, head.Frame.Datum, head.Frame.Grid)
	layers := []gpkg.Layer{
		{Name: "points", Title: "Results", Description: about, Geometry: gpkg.Point, Columns: gpkgColumns},
		{Name: "failures", Title: "Out of tolerance", Description: about, Geometry: gpkg.Point, Columns: gpkgColumns},
		{Name: "pipes", Title: "Design pipes", Description: about + " Lines run from upstream to downstream.", Geometry: gpkg.LineString, Columns: pipeColumns},
		{Name: "about", Title: "About these results", Columns: []gpkg.Column{{Name: "name", Type: gpkg.Text}, {Name: "value", Type: gpkg.Text}}},
	}
	if head.Job.Nonconformance != nil {
		layers = append(layers, patchLayer)
	}
	for _, l := range layers {
		if err := f.Layer(l); err != nil {
			f.Close()
			return nil, err
		}
	}
	return g, nil
}

// changed is the time of the last change: the day of the survey, so that the same
// input gives the same bytes.
func changed(date string) string {
	if t, err := time.Parse("2006-01-02", date); err == nil {
		return t.Format("2006-01-02T15:04:05.000Z")
	}
	return "1970-01-01T00:00:00.000Z"
}

func (g *gpkgWriter) Rows(rows []qa.Row) error {
	for i := range rows {
		r := &rows[i]
		values, parts := g.values(r), g.place(r.Shot.Place, r.Shot.Placed)
		if err := g.f.Insert("points", parts, values); err != nil {
			return err
		}
		if r.Verdict == limits.Fail {
			if err := g.f.Insert("failures", parts, values); err != nil {
				return err
			}
		}
	}
	return nil
}

// place is a position in the frame's unit; the whole part of the coordinates is
// added in float64, good to a nanometre at ten million.
func (g *gpkgWriter) place(p convert.Place, placed bool) [][]gpkg.XY {
	if !placed {
		return nil
	}
	g.pos = append(g.pos[:0], []gpkg.XY{g.xy(p)})
	return g.pos
}

func (g *gpkgWriter) xy(p convert.Place) gpkg.XY {
	f := &g.res.Frame
	return gpkg.XY{X: float64(f.E0) + float64(p.E)/float64(f.Unit.Size), Y: float64(f.N0) + float64(p.N)/float64(f.Unit.Size)}
}

func text(s string) gpkg.Value {
	if s == "" {
		return nil
	}
	return s
}

func real(set bool, l unit.Length, u unit.Unit) gpkg.Value {
	if !set {
		return nil
	}
	return float64(l) / float64(u.Size)
}

func (g *gpkgWriter) values(r *qa.Row) []gpkg.Value {
	f, s := &g.res.Frame, &r.Shot
	check, element, e, n := "", "", "", ""
	if r.Check >= 0 {
		c := &g.res.Checks[r.Check].Common
		check, element = c.Name, c.Element
	}
	if s.Placed {
		e, n = f.Easting(s.Place, 3), f.Northing(s.Place, 3)
	}
	levels := r.Compared && r.Quantity.Levels()
	var u gpkg.Value
	if r.HasU {
		u = r.U
	}
	g.row = append(g.row[:0], text(s.ID), text(s.Code), text(check), text(element), text(s.Lot), text(string(r.Quantity)), text(VerdictWord(r)), text(useWord(r)),
		real(levels, r.Design, f.Unit), real(levels || !r.Derived && s.Levelled, builtLevel(r), f.Unit), real(r.Compared, r.Diff, unit.MM), u,
		real(r.Limits.HasLower, r.Limits.Lower, unit.MM), real(r.Limits.HasUpper, r.Limits.Upper, unit.MM), real(r.Verdict == limits.Fail && r.Beyond != 0, r.Beyond, unit.MM),
		text(r.Action), text(r.Reason), text(r.Note), text(ncrNo(r)), text(ncrStatus(r)), text(supersedes(r)), text(conceded(r)), text(r.Pipe), real(r.OnPipe, r.Along, f.Unit), text(e), text(n), text(r.Origin()), text(r.Limits.Source),
		text(s.Pos.File+partOf(s.Pos)), text(s.Pos.Cell()))
	return g.row
}

// Close writes the pipes and what the results are.
func (g *gpkgWriter) Close(res *qa.Result) error {
	err := g.finish(res)
	if e := g.f.Close(); err == nil {
		err = e
	}
	return err
}

func (g *gpkgWriter) finish(res *qa.Result) error {
	u := res.Frame.Unit
	if err := g.patches(res); err != nil {
		return err
	}
	for i := range res.Job.Designs { // in the order of the job
		name := res.Job.Designs[i].Name
		n := res.Design.Networks[name]
		if n == nil {
			continue
		}
		for k := range n.Pipes {
			p := &n.Pipes[k]
			us, ds := &n.Pits[p.US], &n.Pits[p.DS]
			if p.Bad != "" || !us.Placed || !ds.Placed {
				continue
			}
			err := g.f.Insert("pipes", [][]gpkg.XY{{g.xy(us.Place), g.xy(ds.Place)}}, []gpkg.Value{p.Name, us.Name, ds.Name, real(true, p.USInvert, u), real(true, p.DSInvert, u),
				real(true, p.Length, u), p.Grade().OneIn(), real(p.Bore > 0, p.Bore, unit.MM), name})
			if err != nil {
				return err
			}
		}
	}
	j := res.Job
	about := [][2]string{{"verdict", string(res.Verdict)}, {"complete", strconv.FormatBool(res.Complete)}, {"project", j.Project}, {"contract", j.Contract}, {"lot", j.Lot}, {"clause", j.Clause},
		{"design revision", j.Revision}, {"hold point", j.HoldPoint}, {"report no.", j.ReportNo}, {"survey date", j.SurveyDate}, {"observer", j.People.Observer}, {"checker", j.People.Checker},
		{"grid", res.Frame.Grid}, {"height datum", res.Frame.Datum}, {"unit", res.Frame.Unit.Word}, {"software", "sightrail " + res.Version}}
	for _, in := range res.Inputs {
		about = append(about, [2]string{"input " + in.File + " (" + in.Role + ")", "SHA-256 " + in.SHA256})
	}
	about = append(about, [2]string{"cautions", strings.Join(slices.Clone(Cautions), " ")})
	for _, x := range about {
		if err := g.f.Insert("about", nil, []gpkg.Value{x[0], text(x[1])}); err != nil {
			return err
		}
	}
	return nil
}
