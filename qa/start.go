package qa

import (
	"cmp"
	"fmt"

	"sightrail/convert"
	"sightrail/formats"
	"sightrail/formats/unit"
	"sightrail/qa/job"
)

// Common returns the common parameters of a check of the job.
type commoner interface{ CommonOf() *job.Common }

// start readies the measurers. A check whose design could not be built stays,
// and assesses nothing.
func (r *Run) start(kinds []*Check) error {
	j := r.Head.Job
	var list formats.ErrorList
	for i := range j.Checks {
		c := &j.Checks[i]
		run := &running{}
		for _, k := range kinds {
			if k.Name == c.Kind {
				run.kind = k
			}
		}
		at := j.Where(fmt.Sprintf("checks[%d].%s", i, c.Kind))
		co, ok := c.Params.(commoner)
		if run.kind == nil || !ok {
			list = append(list, formats.Problem{Pos: at, Field: c.Kind, Text: "there is no such kind of check"})
			continue
		}
		run.common = co.CommonOf()
		if err := run.kind.wrongPreset(c.Params); err != nil {
			list = append(list, formats.Problem{Pos: at, Field: "preset", Text: err.Error()})
			continue
		}
		if err := r.selectSurveys(run, i); err != nil {
			list = append(list, formats.Problem{Pos: at, Field: "shots", Text: err.Error()})
			continue
		}
		if err := r.outline(run, at); err != nil {
			return err
		}
		var err error
		if run.zones, err = r.zones(c.Params, i, c.Kind, run.common.Design); err != nil {
			return err
		}
		s := &Setting{Design: r.Head.Design, Frame: &r.Head.Frame, Area: run.outlines, Lots: r.lots, Zones: run.zones, PlanWorth: r.planWorth()}
		var m Measurer
		m, err = run.kind.Start(c.Params, s)
		if err == nil && run.cannot != "" {
			m = nil // the polygon cannot be used
		}
		if err != nil {
			run.cannot = err.Error()
			if !r.unbuilt[run.common.Design] { // else why is said at the design
				r.problem(at, run.common.Name, "%v", err)
			}
		}
		run.measurer = m
		if r.former.Surfaces[run.common.Design] != nil || r.former.Networks[run.common.Design] != nil {
			if run.former, err = run.kind.Start(c.Params, &Setting{Design: &r.former, Frame: s.Frame, Area: s.Area, Lots: s.Lots, Zones: s.Zones}); err != nil {
				r.problem(at, run.common.Name, "the other revision: %v", err)
				run.former = nil
			}
		}
		r.checks = append(r.checks, run)
		res := CheckResult{Kind: run.kind, Common: *run.common}
		if t, ok := c.Params.(interface{ ToleranceOf() *job.Tolerance }); ok {
			res.Limits = t.ToleranceOf().Limits()
		}
		r.Head.Checks = append(r.Head.Checks, res)
	}
	return list.Err()
}

// planWorth is what the places of each survey are worth in plan; 0 where the job
// does not say.
func (r *Run) planWorth() []unit.Length {
	out := make([]unit.Length, len(r.Head.Job.Surveys))
	for i := range out {
		if l := cmp.Or(r.Head.Job.Surveys[i].PlanWorth, r.Head.Job.PlanWorth); l != nil {
			out[i] = l.Length
		}
	}
	return out
}

func (r *Run) selectSurveys(run *running, check int) error {
	names := run.common.Shots.Surveys
	if len(names) == 0 {
		return nil
	}
	run.surveys = make([]bool, len(r.Head.Job.Surveys))
	for _, n := range names {
		found := false
		for i := range r.Head.Job.Surveys {
			if r.Head.Job.Surveys[i].File == n {
				run.surveys[i], found = true, true
			}
		}
		if !found {
			return fmt.Errorf("surveys: %q is not a file of the surveys list", n)
		}
	}
	return nil
}

// outline makes the polygons of a check, from corners or from a file. Every
// polygon of a file is one of its own: a shot is selected by any of them.
func (r *Run) outline(run *running, at formats.Pos) error {
	if run.common.Shots.Polygon == nil {
		return nil
	}
	polygons, err := r.polygons(run.common.Shots.Polygon)
	if err != nil {
		return err
	}
	if len(polygons) == 0 {
		polygons = []polygon{{err: fmt.Errorf("%s has no polygon named %q", run.common.Shots.Polygon.File, run.common.Shots.Polygon.Name)}}
	}
	for _, p := range polygons {
		if p.err != nil {
			r.problem(at, "polygon", "%v", p.err)
			run.cannot = "the polygon of the check cannot be used: " + p.err.Error()
			run.outlines = nil
			return nil
		}
		run.outlines = append(run.outlines, p.outline)
	}
	return nil
}

// polygon is an outline by the name it has in its file, or why there is none.
type polygon struct {
	name    string
	outline *convert.Outline
	err     error
}

// polygons makes outlines of corners, or of the polygons of a file: those of the
// name that is asked for, else all. The error is for a file that cannot be read.
func (r *Run) polygons(o *job.Outline) ([]polygon, error) {
	f := &r.Head.Frame
	made := func(name string, rings [][]convert.Place, err error) polygon {
		p := polygon{name: name, err: err}
		if err == nil {
			p.outline, p.err = convert.NewOutline(rings)
		}
		return p
	}
	if o.File == "" {
		ring := make([]convert.Place, len(o.Corners))
		var placeErr error
		for i, c := range o.Corners {
			p, err := r.place(c[0], c[1])
			ring[i], placeErr = p, cmp.Or(placeErr, err)
		}
		return []polygon{made(o.Name, [][]convert.Place{ring}, placeErr)}, nil
	}
	d, err := r.decode(o.File, "outline", formats.Options{Unit: f.Unit})
	if err != nil {
		return nil, err
	}
	var out []polygon
	for k := range d.Polygons {
		if o.Name != "" && d.Polygons[k].Name != o.Name {
			continue
		}
		var rings [][]convert.Place
		var placeErr error
		for _, ring := range d.Polygons[k].Rings {
			places := make([]convert.Place, len(ring))
			for i, v := range ring {
				p, err := f.Place(v.E, v.N, f.Unit)
				places[i], placeErr = p, cmp.Or(placeErr, err)
			}
			rings = append(rings, places)
		}
		out = append(out, made(d.Polygons[k].Name, rings, placeErr))
	}
	return out, nil
}

// place makes a Place of coordinates of the job file.
func (r *Run) place(e, n job.Coordinate) (convert.Place, error) {
	f := &r.Head.Frame
	x, err := e.Value.LengthFrom(f.E0, f.Unit, e.In)
	if err != nil {
		return convert.Place{}, err
	}
	y, err := n.Value.LengthFrom(f.N0, f.Unit, n.In)
	return convert.Place{E: x, N: y}, err
}
