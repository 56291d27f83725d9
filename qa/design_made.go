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

// buildPipes makes a network of a table of pipes.
func (r *Run) buildPipes(i int, at formats.Pos, d *job.Design, doc *formats.Document) {
	r.unbuilt[d.Name] = true
	if len(doc.Networks) != 1 {
		if len(doc.Problems) == 0 {
			r.problem(at, d.Name, "%s holds %d tables of pipes, and a design is one; leave the others in files of their own", d.File, len(doc.Networks))
		}
		return
	}
	if r.unplaced[i] {
		return
	}
	if len(doc.Problems) == 0 { // a row that cannot be read is a pipe that is missing
		r.layNetwork(d, &doc.Networks[0], doc.Units, r.Head.Design)
	}
}

// pits reads the places of the pits of a table of pipes.
func (r *Run) pits(i int, d *job.Design, doc *formats.Document) error {
	pits, err := r.decode(d.Pits, "design", formats.Options{Content: formats.PointContent, Unit: declared(d.Unit)})
	if err != nil {
		return err
	}
	at := r.Head.Job.Where(fmt.Sprintf("designs[%d].pits", i))
	u := linearUnit(doc, declared(d.Unit))
	switch in := linearUnit(pits, declared(d.Unit)); {
	case len(doc.Networks) != 1 || !u.Known():
		return nil // said elsewhere
	case !in.Known() && len(pits.Problems) == 0:
		r.problem(at, d.Name, "%s does not say its unit of length; declare it here with \"unit: m\"", d.Pits)
		r.unplaced[i] = true
	case in != u:
		r.problem(at, d.Name, "%s is in %s and %s in %s; places and inverts of one network are in one unit", d.Pits, in.Name, d.File, u.Name)
		r.unplaced[i] = true
	default:
		r.placePits(&doc.Networks[0], pits)
	}
	return nil
}

// placePits gives the pits of a network the places of a list, and its levels as rims.
func (r *Run) placePits(n *formats.Network, list *formats.Document) {
	byName := map[string]*formats.Structure{}
	for i := range n.Structures {
		byName[n.Structures[i].Name] = &n.Structures[i]
	}
	for i := range list.Points {
		p := &list.Points[i]
		s := byName[p.ID]
		if s == nil || !p.Placed {
			continue
		}
		at := formats.Pos{File: list.File}.At(p.Row, p.Col)
		if s.Placed && (s.E != p.E || s.N != p.N) {
			r.problem(at, "pit "+s.Name, "it has another place here (%s, %s) than in %s (%s, %s)", p.E, p.N, s.Pos, s.E, s.N)
			continue
		}
		s.E, s.N, s.Placed = p.E, p.N, true
		if !s.Rim.Set && p.Levelled {
			s.Rim = formats.Reading{Set: true, Value: p.Z, Col: p.Col}
		}
	}
}
