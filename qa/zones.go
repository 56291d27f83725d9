package qa

import (
	"fmt"

	"sightrail/convert"
	"sightrail/formats"
	"sightrail/formats/unit"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// Zone is a part of a surface with limits of its own.
type Zone struct {
	Name   string
	Limits limits.Tolerance
	Words  string // what lies in it
	Cannot string // why nothing can be said to lie in it

	outlines []*convert.Outline // any of them
	band     *convert.Band
	near     *job.Near // of a line through shots
	lines    [][]convert.Place
	at       formats.Pos
}

// Holds tells whether a place lies in the zone, its edge included.
func (z *Zone) Holds(p convert.Place) bool {
	for _, o := range z.outlines {
		if o.Contains(p) {
			return true
		}
	}
	return z.band != nil && z.band.Contains(p)
}

// zoned are parameters of a check whose limits depend on the place.
type zoned interface{ ZonesOf() []job.Zone }

// zones makes the zones of a check. What is wrong with one is a problem, and
// nothing is said to lie in it. The error is for a file that cannot be read.
func (r *Run) zones(params any, check int, kind, design string) ([]*Zone, error) {
	p, ok := params.(zoned)
	if !ok {
		return nil, nil
	}
	var out []*Zone
	for i, z := range p.ZonesOf() {
		at := r.Head.Job.Where(fmt.Sprintf("checks[%d].%s.tolerance.zones[%d]", check, kind, i))
		zone := &Zone{Name: z.Name, Limits: z.Limits(), at: at}
		zone.Limits.Source = "zone " + z.Name + ": " + zone.Limits.Source
		if z.Polygon != nil {
			zone.Words = "inside an outline of the job"
			if z.Polygon.File != "" {
				zone.Words = "inside " + fileWords(z.Polygon.File, z.Polygon.Name)
			}
			list, err := r.polygons(z.Polygon)
			if err != nil {
				return nil, err
			}
			if len(list) == 0 {
				list = []polygon{{err: fmt.Errorf("%s has no such polygon", z.Polygon.File)}}
			}
			for _, p := range list {
				if p.err != nil {
					r.badZone(zone, p.err)
					break
				}
				zone.outlines = append(zone.outlines, p.outline)
			}
		} else if err := r.nearZone(zone, z.Near, design); err != nil {
			return nil, err
		}
		out = append(out, zone)
	}
	return out, nil
}

// givesLine names the zone whose line runs through a shot; "" for none.
func (r *Run) givesLine(s *job.Survey, shot *convert.Shot) string {
	for _, z := range r.byShots {
		if z.band != nil && shot.Placed && (job.Shots{Codes: z.near.Codes, Runs: z.near.Runs}).Matches(shot.ID, shot.Code, shot.Layer, shot.Run, s.File) {
			return z.Name
		}
	}
	return ""
}

func fileWords(file, name string) string {
	if name == "" {
		return file
	}
	return name + " of " + file
}

func (r *Run) badZone(z *Zone, err error) {
	z.Cannot = fmt.Sprintf("the zone %s of the check cannot be used: %v", z.Name, err)
	z.outlines, z.band = nil, nil
	r.problem(z.at, "zone "+z.Name, "%v", err)
}

// nearZone makes the band along a line. A line through shots follows when all
// surveys are read.
func (r *Run) nearZone(z *Zone, n *job.Near, design string) error {
	z.Words = "within " + n.Distance.Exact(unit.MM, 0) + " mm of "
	var lines [][]convert.Place
	switch {
	case n.Design:
		z.Words += "the outline of the design"
		s := r.Head.Design.Surfaces[design]
		if s == nil {
			return nil // why is said at the design
		}
		if lines = s.Border(); len(lines) == 0 {
			r.badZone(z, fmt.Errorf("the design %q has no outline; give the line by \"corners:\" or \"file:\"", design))
			return nil
		}
	case len(n.Corners) > 0:
		z.Words += "a line of the job"
		line := make([]convert.Place, len(n.Corners))
		for i, c := range n.Corners {
			p, err := r.place(c[0], c[1])
			if err != nil {
				r.badZone(z, err)
				return nil
			}
			line[i] = p
		}
		lines = [][]convert.Place{line}
	case n.File != "":
		z.Words += fileWords(n.File, n.Name)
		list, err := r.polygons(&job.Outline{File: n.File, Name: n.Name})
		if err != nil {
			return err
		}
		if lines, err = r.lines(n.File, n.Name); err != nil {
			r.badZone(z, err)
			return nil
		}
		for _, p := range list {
			if p.err != nil {
				r.badZone(z, p.err)
				return nil
			}
			lines = append(lines, p.outline.Rings()...)
		}
		if len(lines) == 0 {
			r.badZone(z, fmt.Errorf("%s has no such line or polygon", n.File))
			return nil
		}
	default:
		z.near = n
		return nil
	}
	r.band(z, lines, n.Distance.Length)
	return nil
}

// lines are those of a file, or those of a name in it; a line of several parts
// makes several.
func (r *Run) lines(file, name string) (out [][]convert.Place, err error) {
	f := &r.Head.Frame
	d, err := r.decode(file, "outline", formats.Options{Unit: f.Unit})
	if err != nil {
		return nil, err
	}
	for i := range d.Lines {
		if name != "" && d.Lines[i].Name != name {
			continue
		}
		for _, part := range d.Lines[i].Parts {
			line := make([]convert.Place, len(part))
			for k, v := range part {
				if line[k], err = f.Place(v.E, v.N, f.Unit); err != nil {
					return nil, err
				}
			}
			out = append(out, line)
		}
	}
	return out, nil
}

func (r *Run) band(z *Zone, lines [][]convert.Place, distance unit.Length) {
	b, err := convert.NewBand(lines, distance)
	if err != nil {
		r.badZone(z, err)
		return
	}
	z.band = b
}

// MaxLine is how many shots the lines of the zones of a job may run through.
const MaxLine = 200_000

// zoneLines draws the lines that run through shots, before anything is judged:
// the shots of each run in the order of the files, whatever is thought of their
// levels. Rows that a rule leaves out are left out here as well.
func (r *Run) zoneLines() error {
	var open []*Zone
	for _, c := range r.checks {
		for _, z := range c.zones {
			if z.near != nil {
				open = append(open, z)
			}
		}
	}
	if len(open) == 0 {
		return nil
	}
	r.byShots = open
	runs := make([]map[string]int, len(open))
	kept := 0
	look := func(s *job.Survey, shots []convert.Shot) {
		for i := range shots {
			shot := shots[i]
			r.ready(s, &shot)
			if !shot.Placed && shot.Use != convert.Blank {
				r.places.Join(&shot)
			}
			if !shot.Placed || r.marks[shot.ID] != nil || shot.Use != convert.Assessed && shot.Use != convert.NotAssessed {
				continue
			}
			for k, z := range open {
				if !(job.Shots{Codes: z.near.Codes, Runs: z.near.Runs}).Matches(shot.ID, shot.Code, shot.Layer, shot.Run, s.File) {
					continue
				}
				if kept++; kept > MaxLine {
					continue
				}
				if runs[k] == nil {
					runs[k] = map[string]int{}
				}
				n, known := runs[k][shot.Run]
				if !known {
					n = len(z.lines)
					runs[k][(&Row{Shot: shot}).detached().Shot.Run] = n
					z.lines = append(z.lines, nil)
				}
				z.lines[n] = append(z.lines[n], shot.Place)
			}
		}
	}
	for i := range r.Head.Job.Surveys {
		s := &r.Head.Job.Surveys[i]
		if b := r.books[i]; b != nil {
			look(s, b.shots)
			continue
		}
		reader := convert.PointReader{Frame: &r.Head.Frame, Unit: r.units[i], Survey: i, Laser: s.Kind == "laser"}
		opt := s.Reading.Options(formats.PointContent)
		opt.Points = func(at formats.Pos, batch []formats.Point) error {
			look(s, reader.Shots(at, batch))
			return nil
		}
		if _, _, err := r.files.Decode(s.File, opt); err != nil {
			return err
		}
	}
	for _, z := range open {
		shots := 0
		for _, l := range z.lines {
			shots += len(l)
		}
		z.Words += fmt.Sprintf("the line through %d shots in %d runs", shots, len(z.lines))
		switch {
		case kept > MaxLine:
			r.badZone(z, fmt.Errorf("the lines of the zones run through more than %d shots; give the line by \"corners:\" or \"file:\"", MaxLine))
		case shots == 0:
			r.badZone(z, fmt.Errorf("no shot with a place has the codes or runs that its line runs through"))
		default:
			r.band(z, z.lines, z.near.Distance.Length)
		}
		z.lines = nil
	}
	return nil
}
