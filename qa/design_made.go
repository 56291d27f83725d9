package qa

import (
	"fmt"

	"sightrail/convert"
	"sightrail/convert/align"
	"sightrail/formats"
	"sightrail/formats/unit"
	"sightrail/qa/job"
)

// take keeps a surface that was made of the rows of a file, or says why there is
// none.
func (r *Run) take(name string, s *convert.Surface, problems []formats.Problem) {
	r.Head.Problems = append(r.Head.Problems, problems...)
	if s == nil {
		r.unbuilt[name] = true
		return
	}
	r.Head.Notes = append(r.Head.Notes, s.Notes...)
	r.Head.Design.Surfaces[name] = s
}

// MadeOf is how the job wants a surface to be made.
func MadeOf(p *job.DesignPoints) convert.MadeOptions {
	o := convert.MadeOptions{Break: job.LineOf(p.Breaklines), Bound: job.LineOf(p.Boundary), Void: job.LineOf(p.Voids)}
	if p.MaxSide != nil {
		o.MaxSide = p.MaxSide.Length
	}
	return o
}

// lineReach is how far to either side a graded line holds when the job does not
// say: half a metre, as for the shots of a pipe. Common practice, no published
// source.
const lineReach = unit.Metre / 2

// buildLine lays a graded line.
func (r *Run) buildLine(at formats.Pos, d *job.Design) {
	l := d.GradedLine
	var nodes [2]convert.LineNode
	for i, n := range []*job.DesignNode{&l.From, &l.To} {
		p, err := r.place(n.Easting, n.Northing)
		if err != nil {
			r.problem(at, d.Name, "the node %s cannot be used: %v", n.Name, err)
			r.unbuilt[d.Name] = true
			return
		}
		nodes[i] = convert.LineNode{Name: n.Name, Place: p, Level: n.Level.Length}
	}
	reach := lineReach
	if l.Reach != nil {
		reach = l.Reach.Length
	}
	s, err := convert.NewGradedLine(d.Name, at, nodes[0], nodes[1], reach, &r.Head.Frame)
	if err != nil {
		r.problem(at, d.Name, "the line %q cannot be used: %v", d.Name, err)
		r.unbuilt[d.Name] = true
		return
	}
	r.Head.Design.Surfaces[d.Name] = s
}

// buildAlignment makes a design of an alignment of a file.
func (r *Run) buildAlignment(at formats.Pos, d *job.Design, doc *formats.Document, u unit.Unit) {
	var found []*formats.Alignment
	var names []string
	for k := range doc.Alignments {
		names = append(names, fmt.Sprintf("%q", doc.Alignments[k].Name))
		if doc.Alignments[k].Name == d.Alignment.Name {
			found = append(found, &doc.Alignments[k])
		}
	}
	if len(found) != 1 {
		r.unbuilt[d.Name] = true
		if len(found) > 0 || len(doc.Problems) == 0 { // else the file has said why
			r.problem(at, d.Name, "%s has %d alignments named %q%s", d.File, len(found), d.Alignment.Name, itHas(names))
		}
		return
	}
	o := convert.AlignmentOptions{Profile: d.Alignment.Profile, Reach: d.Alignment.ReachOf()}
	o.Crossfalls, o.AllAlong = d.Alignment.Crossfalls()
	if s := d.Alignment.Sections; s != nil {
		o.Sections = s.Surface
		o.Between = map[string]align.Between{"offset": align.ByOffset, "name": align.ByName}[s.Between]
		o.Levels = map[string]align.Datum{"absolute": align.Absolute, "overProfile": align.OverProfile}[s.Levels]
	}
	s, problems := convert.NewAlignmentSurface(d.Name, found[0], o, u, &r.Head.Frame)
	r.take(d.Name, s, problems)
}
