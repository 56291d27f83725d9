package qa

import (
	"fmt"
	"strings"

	"sightrail/convert"
	"sightrail/convert/plane"
	"sightrail/formats"
	"sightrail/formats/unit"
	"sightrail/qa/job"
)

func (r *Run) designs() ([]*formats.Document, error) {
	j := r.Head.Job
	docs := make([]*formats.Document, len(j.Designs))
	read := map[string]*formats.Document{}
	for i := range j.Designs {
		d := &j.Designs[i]
		opt := formats.Options{}
		if d.Unit != nil {
			opt.Unit = d.Unit.Unit
		}
		if d.DimUnit != nil {
			opt.DimUnit = d.DimUnit.Unit
		}
		switch {
		case d.Table == "pipes":
			opt.Content = formats.PipeContent
		case d.Table != "" || d.Points != nil && d.Surface == "":
			opt.Content = formats.PointContent
		}
		key := fmt.Sprintf("%s\x00%s\x00%s\x00%s", d.File, opt.Unit.Name, opt.DimUnit.Name, opt.Content)
		if docs[i] = read[key]; docs[i] != nil && d.Pits == "" {
			continue
		}
		if d.File == "" { // a plane or a line
			docs[i] = &formats.Document{}
			continue
		}
		doc, err := r.decode(d.File, "design", opt)
		if err != nil {
			return nil, err
		}
		docs[i] = doc
		if d.Pits != "" { // its pits get places of their own
			if err := r.pits(i, d, doc); err != nil {
				return nil, err
			}
			continue
		}
		read[key] = doc
	}
	return docs, r.issued()
}

// issued compares the hash of every design file with the one that the job calls
// for.
func (r *Run) issued() error {
	var list formats.ErrorList
	j := r.Head.Job
	for i := range j.Designs {
		d := &j.Designs[i]
		for _, in := range r.Head.Inputs {
			if d.SHA256 == "" || in.File != d.File || in.Role != "design" || strings.EqualFold(in.SHA256, d.SHA256) {
				continue
			}
			at := j.Where(fmt.Sprintf("designs[%d].sha256", i))
			text := fmt.Sprintf("%s has the SHA-256 %s, which is not the one here: it is not the file that was issued; get that file, or correct the job if a new one was issued", d.File, in.SHA256)
			if ex := j.Excerpt(at); ex != "" {
				text += "\n" + ex
			}
			list = append(list, formats.Problem{Pos: at, Field: "sha256", Text: text})
		}
	}
	return list.Err()
}

// formers builds the designs of other revisions. What cannot be built is a
// problem; nothing is judged by them.
func (r *Run) formers() error {
	j := r.Head.Job
	r.former = convert.Design{Surfaces: map[string]*convert.Surface{}, Networks: map[string]*convert.Network{}}
	for i := range j.Designs {
		d := j.Designs[i]
		if d.Former == nil {
			continue
		}
		opt := formats.Options{}
		if d.Unit != nil {
			opt.Unit = d.Unit.Unit
		}
		if d.DimUnit != nil {
			opt.DimUnit = d.DimUnit.Unit
		}
		doc, err := r.decode(d.Former.File, "other revision", opt)
		if err != nil {
			return err
		}
		at := j.Where(fmt.Sprintf("designs[%d].former", i))
		u := linearUnit(doc, declared(d.Unit))
		if !u.Known() {
			r.problem(at, d.Name, "%s does not say its unit of length", d.Former.File)
			continue
		}
		d.File = d.Former.File
		if d.Former.Surface != "" {
			d.Surface = d.Former.Surface
		}
		if d.Former.Network != "" {
			d.Network = d.Former.Network
		}
		if d.Surface != "" {
			r.buildSurface(at, &d, doc, u, &r.former)
		}
		if d.Network != "" {
			r.buildNetwork(at, &d, doc, &r.former)
		}
	}
	return nil
}

func linearUnit(d *formats.Document, declared unit.Unit) unit.Unit {
	if d.Units.Linear.Known() {
		return d.Units.Linear
	}
	return declared
}

// declared is a unit of the job that may be left out.
func declared(u *job.Unit) unit.Unit {
	if u == nil {
		return unit.Unit{}
	}
	return u.Unit
}

// build turns the design documents into surfaces and networks by the job's
// names. What cannot be built is a problem, and its checks assess nothing.
func (r *Run) build(docs []*formats.Document) {
	j := r.Head.Job
	for i := range j.Designs {
		d, doc := &j.Designs[i], docs[i]
		at := j.Where(fmt.Sprintf("designs[%d].name", i))
		if d.Plane != nil {
			r.buildPlane(j.Where(fmt.Sprintf("designs[%d].plane", i)), d)
			continue
		}
		if d.GradedLine != nil {
			r.buildLine(j.Where(fmt.Sprintf("designs[%d].line", i)), d)
			continue
		}
		u := linearUnit(doc, declared(d.Unit))
		if !u.Known() {
			if len(doc.Problems) == 0 { // else the file has said what is wrong with it
				r.problem(at, d.Name, "%s does not say its unit of length; declare it here with \"unit: m\"", d.File)
			}
			r.unbuilt[d.Name] = true
			continue
		}
		if doc.CRS.EPSG != "" && r.Head.Frame.EPSG != "" && doc.CRS.EPSG != r.Head.Frame.EPSG {
			r.problem(at, d.Name, "%s is in EPSG:%s, the job in EPSG:%s; one of them is wrong", d.File, doc.CRS.EPSG, r.Head.Frame.EPSG)
			r.unbuilt[d.Name] = true
			continue
		}
		switch {
		case d.Table == "byChainage":
			s, problems := convert.NewChainageTable(d.Name, doc, d.Between, u, &r.Head.Frame)
			r.take(d.Name, s, problems)
		case d.Points != nil && d.Surface == "":
			s, problems := convert.NewMadeSurface(d.Name, doc, MadeOf(d.Points), u, &r.Head.Frame)
			r.take(d.Name, s, problems)
		case d.Table == "pipes":
			r.buildPipes(i, at, d, doc)
		case d.Table != "":
			s, problems := convert.NewLevelTable(d.Name, doc, u, &r.Head.Frame)
			r.Head.Problems = append(r.Head.Problems, problems...)
			r.Head.Design.Surfaces[d.Name] = s
		}
		if d.Alignment != nil {
			r.buildAlignment(at, d, doc, u)
		}
		if d.Surface != "" {
			r.buildSurface(at, d, doc, u, r.Head.Design)
		}
		if d.Network != "" {
			r.buildNetwork(at, d, doc, r.Head.Design)
		}
	}
}

// buildPlane lays a design plane.
func (r *Run) buildPlane(at formats.Pos, d *job.Design) {
	p := d.Plane
	fail := func(err error) {
		r.problem(at, d.Name, "the plane %q cannot be used: %v", d.Name, err)
		r.unbuilt[d.Name] = true
	}
	origin, err := r.place(p.Easting, p.Northing)
	if err != nil {
		fail(err)
		return
	}
	s := &convert.Surface{Name: d.Name, Pos: at, Plane: &plane.Plane{Origin: plane.Place{E: origin.E, N: origin.N}, Level: p.Level.Length}}
	if p.Bearing != nil {
		s.Plane.Axis = plane.Bearing(p.Bearing.Angle)
	}
	if p.Grade != nil {
		s.Plane.Along = p.Grade.Grade
	}
	if p.Across != nil {
		s.Plane.Across = p.Across.Grade
	}
	if len(p.Corners) > 0 {
		ring := make([]convert.Place, len(p.Corners))
		for i, c := range p.Corners {
			if ring[i], err = r.place(c[0], c[1]); err != nil {
				fail(err)
				return
			}
		}
		if s.Outline, err = convert.NewOutline([][]convert.Place{ring}); err != nil {
			fail(err)
			return
		}
	}
	r.Head.Design.Surfaces[d.Name] = s
}

func (r *Run) buildSurface(at formats.Pos, d *job.Design, doc *formats.Document, u unit.Unit, to *convert.Design) {
	var found []*formats.Surface
	var names []string
	for k := range doc.Surfaces {
		names = append(names, fmt.Sprintf("%q", doc.Surfaces[k].Name))
		if doc.Surfaces[k].Name == d.Surface {
			found = append(found, &doc.Surfaces[k])
		}
	}
	if to == r.Head.Design {
		r.unbuilt[d.Name] = true
	}
	switch {
	case len(found) == 0 && len(doc.Problems) > 0:
		return // the file has said why
	case len(found) == 0:
		r.problem(at, d.Name, "%s has no surface %q%s", d.File, d.Surface, itHas(names))
		return
	case len(found) > 1:
		r.problem(at, d.Name, "%s has %d surfaces %q; a name must be that of one", d.File, len(found), d.Surface)
		return
	}
	if d.Points != nil {
		s, problems := convert.NewMadeFrom(found[0], MadeOf(d.Points), u, &r.Head.Frame)
		r.Head.Problems = append(r.Head.Problems, problems...)
		if s != nil {
			r.Head.Notes = append(r.Head.Notes, s.Notes...)
			to.Surfaces[d.Name] = s
			r.built(d.Name, to)
		}
		return
	}
	s, err := convert.NewSurface(found[0], u, &r.Head.Frame)
	if err != nil {
		r.problem(found[0].Pos, d.Name, "the surface %q cannot be used: %v", d.Surface, err)
		return
	}
	r.Head.Notes = append(r.Head.Notes, s.Notes...)
	to.Surfaces[d.Name] = s
	r.built(d.Name, to)
}

func (r *Run) buildNetwork(at formats.Pos, d *job.Design, doc *formats.Document, to *convert.Design) {
	var found []*formats.Network
	var names []string
	for k := range doc.Networks {
		names = append(names, fmt.Sprintf("%q", doc.Networks[k].Name))
		if doc.Networks[k].Name == d.Network {
			found = append(found, &doc.Networks[k])
		}
	}
	if to == r.Head.Design {
		r.unbuilt[d.Name] = true
	}
	if len(found) != 1 {
		if len(found) == 0 && len(doc.Problems) > 0 {
			return
		}
		r.problem(at, d.Name, "%s has %d pipe networks named %q%s", d.File, len(found), d.Network, itHas(names))
		return
	}
	r.layNetwork(d, found[0], doc.Units, to)
}

// layNetwork takes a network of a file into the job.
func (r *Run) layNetwork(d *job.Design, in *formats.Network, units formats.Units, to *convert.Design) {
	if !units.Linear.Known() && d.Unit != nil {
		units.Linear = d.Unit.Unit
	}
	n, problems := convert.NewNetwork(in, units, convert.NetworkOptions{InvertsAt: d.InvertsAt, Flow: d.Flow}, &r.Head.Frame)
	r.Head.Problems = append(r.Head.Problems, problems...)
	if n != nil {
		r.Head.Notes = append(r.Head.Notes, n.Notes...)
		to.Networks[d.Name] = n
		r.built(d.Name, to)
	}
}

// built notes that a design of the job was built.
func (r *Run) built(name string, to *convert.Design) {
	if to == r.Head.Design {
		delete(r.unbuilt, name)
	}
}

func itHas(names []string) string {
	if len(names) == 0 {
		return ""
	}
	return "; it has " + strings.Join(names, ", ")
}
