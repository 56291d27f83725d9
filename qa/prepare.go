package qa

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"strings"

	"sightrail/convert"
	"sightrail/convert/levels"
	"sightrail/convert/plane"
	"sightrail/formats"
	"sightrail/formats/unit"
	"sightrail/qa/job"
)

// Files reads the files of a job. It is the command's: nothing here opens one.
type Files interface {
	// Exists reports whether the file is there and can be opened.
	Exists(name string) error
	// Decode finds the format of a file and reads it whole. The error is for
	// files that cannot be read at all; what is wrong inside is in the Document.
	Decode(name string, opt formats.Options) (*formats.Document, Input, error)
}

// Run is a job that is ready to run: designs and places read, level books
// reduced, check shots compared. Head is what is known before the checks run.
type Run struct {
	Head    Result
	files   Files
	places  *convert.Places
	books   map[int]*bookShots // by survey
	units   map[int]unit.Unit  // of point files, by survey
	untrue  map[int]string     // surveys disproved by their check shots
	marks   map[string]*job.BenchMark
	checks  []*running
	planes  []*convert.LaserSetup // by laserSetups
	inputs  map[string]bool
	former  convert.Design  // other revisions, by the names of the designs
	unbuilt map[string]bool // designs that could not be built, with a problem of their own
}

type bookShots struct{ shots []convert.Shot }

// running is one check of the job at work.
type running struct {
	kind     *Check
	common   *job.Common
	surveys  []bool             // by survey; nil = all
	outlines []*convert.Outline // any of them selects
	measurer Measurer
	cannot   string   // why nothing of this check can be assessed
	former   Measurer // the same check against the other revision; nil = none
	fit      tally    // of former
	again    []Row
	tally    tally
	shots    []convert.Shot
	rows     []Row
	at       []int
	remarks  []string
}

// Common returns the common parameters of a check of the job.
type commoner interface{ CommonOf() *job.Common }

// Prepare reads and checks everything but the points. The error is for a job
// that cannot be run at all: a file that is not there, a design that is stale.
func Prepare(j *job.Job, kinds []*Check, files Files, version string) (*Run, error) {
	r, err := newRun(j, files, version, CheckFiles(j))
	if err != nil {
		return nil, err
	}
	r.Head.Missing = missing(j)
	if err := r.start(kinds); err != nil {
		return nil, err
	}
	if err := r.reduceForNetwork(); err != nil {
		return nil, err
	}
	for i := range j.Surveys {
		if err := r.survey(i); err != nil {
			return nil, err
		}
	}
	return r, nil
}

// newRun reads what checking and setting out have in common: marks, designs,
// places and laser planes. named are the files that must be there.
func newRun(j *job.Job, files Files, version string, named []JobFile) (*Run, error) {
	r := &Run{files: files, places: convert.NewPlaces(), books: map[int]*bookShots{}, units: map[int]unit.Unit{}, untrue: map[int]string{},
		marks: map[string]*job.BenchMark{}, inputs: map[string]bool{}, unbuilt: map[string]bool{}}
	r.Head = Result{Version: version, Job: j, Design: &convert.Design{Surfaces: map[string]*convert.Surface{}, Networks: map[string]*convert.Network{}}}
	if err := r.missingFiles(named); err != nil {
		return nil, err
	}
	for i := range j.BenchMarks {
		r.marks[j.BenchMarks[i].Name] = &j.BenchMarks[i]
	}
	docs, err := r.designs()
	if err != nil {
		return nil, err
	}
	r.frame(docs)
	r.earth()
	r.build(docs)
	if err := r.formers(); err != nil {
		return nil, err
	}
	if err := r.readPlaces(); err != nil {
		return nil, err
	}
	r.lasers()
	return r, nil
}

// JobFile is a file that a job names, and the key it stands at.
type JobFile struct{ File, Key string }

// fileList gathers the files of a job.
type fileList []JobFile

func (l *fileList) add(file, format string, args ...any) {
	if file != "" {
		*l = append(*l, JobFile{file, fmt.Sprintf(format, args...)})
	}
}

func (l *fileList) designs(j *job.Job) {
	for i := range j.Places {
		l.add(j.Places[i].File, "places[%d].file", i)
	}
	for i := range j.Designs {
		l.add(j.Designs[i].File, "designs[%d].file", i)
		if f := j.Designs[i].Former; f != nil {
			l.add(f.File, "designs[%d].former.file", i)
		}
	}
}

// CheckFiles lists the files that the checks of a job are worked out from.
func CheckFiles(j *job.Job) []JobFile {
	var l fileList
	for i := range j.Surveys {
		l.add(j.Surveys[i].File, "surveys[%d].file", i)
	}
	l.designs(j)
	for i := range j.Checks {
		if c, ok := j.Checks[i].Params.(commoner); ok {
			if o := c.CommonOf().Shots.Polygon; o != nil {
				l.add(o.File, "checks[%d].%s.shots.polygon.file", i, j.Checks[i].Kind)
			}
		}
	}
	return l
}

// missingFiles names every file of the job that is not there, with its place in
// the job file.
func (r *Run) missingFiles(named []JobFile) error {
	var list formats.ErrorList
	seen := map[string]bool{}
	for _, f := range named {
		if seen[f.File] {
			continue
		}
		seen[f.File] = true
		err := r.files.Exists(f.File)
		switch {
		case err == nil:
			continue
		case errors.Is(err, fs.ErrNotExist):
			err = errors.New("there is no such file; the name is looked for from the folder of the job file")
		}
		at := r.Head.Job.Where(f.Key)
		text := fmt.Sprintf("%q: %v", f.File, err)
		if ex := r.Head.Job.Excerpt(at); ex != "" {
			text += "\n" + ex
		}
		list = append(list, formats.Problem{Pos: at, Field: "file", Text: text})
	}
	return list.Err()
}

// decode reads one file and keeps its hash and what is wrong with it.
func (r *Run) decode(name, role string, opt formats.Options) (*formats.Document, error) {
	d, in, err := r.files.Decode(name, opt)
	if err != nil {
		return nil, err
	}
	if key := role + "\x00" + name; !r.inputs[key] {
		r.inputs[key] = true
		in.Role = role
		r.Head.Inputs = append(r.Head.Inputs, in)
		r.Head.Problems = append(r.Head.Problems, d.Problems...)
		r.Head.Notes = append(r.Head.Notes, d.Notes...)
	}
	return d, nil
}

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
		key := d.File + "\x00" + opt.Unit.Name + "\x00" + opt.DimUnit.Name
		if docs[i] = read[key]; docs[i] != nil {
			continue
		}
		if d.File == "" { // a plane
			docs[i] = &formats.Document{}
			continue
		}
		if d.Table != "" {
			opt.Content = formats.PointContent
		}
		doc, err := r.decode(d.File, "design", opt)
		if err != nil {
			return nil, err
		}
		docs[i], read[key] = doc, doc
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

// frame chooses the origin: the first vertex, pit or mark, down to a whole
// thousand of the job's unit, so that differences stay small.
func (r *Run) frame(docs []*formats.Document) {
	j := r.Head.Job
	f := &r.Head.Frame
	*f = convert.Frame{Unit: j.Units.Unit, EPSG: j.Grid.EPSG, Grid: j.Grid.String(), Datum: j.HeightDatum}
	set := func(e, n unit.Decimal, u unit.Unit) {
		to := float64(u.Size) / float64(f.Unit.Size)
		f.E0 = int64(math.Floor(e.Float()*to/1000) * 1000)
		f.N0 = int64(math.Floor(n.Float()*to/1000) * 1000)
	}
	for i, d := range docs {
		if p := j.Designs[i].Plane; p != nil {
			set(p.Easting.Value, p.Northing.Value, p.Easting.In)
			return
		}
		u := linearUnit(d, declared(j.Designs[i].Unit))
		for k := range d.Surfaces {
			if v := d.Surfaces[k].Vertices; len(v) > 0 && u.Known() {
				set(v[0].E, v[0].N, u)
				return
			}
		}
		for k := range d.Networks {
			for _, s := range d.Networks[k].Structures {
				if s.Placed && u.Known() {
					set(s.E, s.N, u)
					return
				}
			}
		}
	}
}

// earth looks up the grid of the job.
func (r *Run) earth() {
	j := r.Head.Job
	e, err := convert.NewEarth(&r.Head.Frame, j.Shift)
	if j.SiteGrid != nil {
		e, err = r.siteGrid()
	}
	if err != nil {
		key := "grid"
		if j.Shift != "" {
			key = "shift"
		}
		r.problem(j.Where(key), key, "%v", err)
		f := r.Head.Frame
		f.EPSG = ""
		e, _ = convert.NewEarth(&f, "")
	}
	r.Head.Earth = e
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
		if d.Table != "" {
			s, problems := convert.NewLevelTable(d.Name, doc, u, &r.Head.Frame)
			r.Head.Problems = append(r.Head.Problems, problems...)
			r.Head.Design.Surfaces[d.Name] = s
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
	units := doc.Units
	if !units.Linear.Known() && d.Unit != nil {
		units.Linear = d.Unit.Unit
	}
	n, problems := convert.NewNetwork(found[0], units, convert.NetworkOptions{InvertsAt: d.InvertsAt, Flow: d.Flow}, &r.Head.Frame)
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

func (r *Run) problem(at formats.Pos, field, format string, args ...any) {
	r.Head.Problems = append(r.Head.Problems, formats.Problem{Pos: at, Field: field, Text: fmt.Sprintf(format, args...)})
}

func (r *Run) note(at formats.Pos, field, format string, args ...any) {
	r.Head.Notes = append(r.Head.Notes, formats.Problem{Pos: at, Field: field, Text: fmt.Sprintf(format, args...)})
}

func (r *Run) readPlaces() error {
	j := r.Head.Job
	for i := range j.Places {
		p := &j.Places[i]
		d, err := r.decode(p.File, "places", p.Reading.Options(formats.PointContent))
		if err != nil {
			return err
		}
		u := linearUnit(d, p.Reading.Declared())
		if !u.Known() && len(d.Problems) > 0 {
			continue
		}
		if !u.Known() {
			r.problem(j.Where(fmt.Sprintf("places[%d].file", i)), "unit", "%s does not say its unit; write it in the headings, such as \"Easting (m)\", or declare \"unit: m\" here", p.File)
			continue
		}
		r.Head.Problems = append(r.Head.Problems, r.places.Add(&r.Head.Frame, d, u)...)
	}
	return nil
}

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
		if err := r.selectSurveys(run, i); err != nil {
			list = append(list, formats.Problem{Pos: at, Field: "shots", Text: err.Error()})
			continue
		}
		if err := r.outline(run, at); err != nil {
			return err
		}
		m, err := run.kind.Start(c.Params, r.Head.Design, &r.Head.Frame)
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
			if run.former, err = run.kind.Start(c.Params, &r.former, &r.Head.Frame); err != nil {
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
	o := run.common.Shots.Polygon
	if o == nil {
		return nil
	}
	f := &r.Head.Frame
	var polygons [][][]convert.Place
	var placeErr error
	if o.File == "" {
		ring := make([]convert.Place, len(o.Corners))
		for i, c := range o.Corners {
			p, err := r.place(c[0], c[1])
			ring[i], placeErr = p, cmp.Or(placeErr, err)
		}
		polygons = append(polygons, [][]convert.Place{ring})
	} else {
		d, err := r.decode(o.File, "outline", formats.Options{Unit: f.Unit})
		if err != nil {
			return err
		}
		for k := range d.Polygons {
			if o.Name != "" && d.Polygons[k].Name != o.Name {
				continue
			}
			var rings [][]convert.Place
			for _, ring := range d.Polygons[k].Rings {
				places := make([]convert.Place, len(ring))
				for i, v := range ring {
					p, err := f.Place(v.E, v.N, f.Unit)
					places[i], placeErr = p, cmp.Or(placeErr, err)
				}
				rings = append(rings, places)
			}
			polygons = append(polygons, rings)
		}
		if len(polygons) == 0 {
			placeErr = cmp.Or(placeErr, fmt.Errorf("%s has no polygon named %q", o.File, o.Name))
		}
	}
	for _, rings := range polygons {
		out, err := convert.NewOutline(rings)
		placeErr = cmp.Or(placeErr, err)
		run.outlines = append(run.outlines, out)
	}
	if placeErr != nil {
		r.problem(at, "polygon", "%v", placeErr)
		run.cannot = "the polygon of the check cannot be used: " + placeErr.Error()
		run.outlines = nil
	}
	return nil
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

// missing lists the evidence that the job does not give, in plain words.
func missing(j *job.Job) []string {
	var m []string
	want := func(have bool, what string) {
		if !have {
			m = append(m, what)
		}
	}
	want(j.Lot != "", "lot")
	want(j.Element != "", "work element")
	want(j.Clause != "", "specification clause")
	want(j.Revision != "", "design revision called for")
	want(j.SurveyDate != "", "date of the survey")
	want(j.People.Observer != "", "observer")
	want(j.People.Checker != "", "checker")
	want(len(j.BenchMarks) > 0, "bench marks")
	want(len(j.Instruments) > 0, "instrument")
	for _, in := range j.Instruments {
		want(in.Serial != "", "serial number of "+in.Name)
		want(in.Checked != "", "date of the last check of "+in.Name)
		want(in.Result != "" || in.TwoPeg != nil || in.Rotating != nil, "result of the last check of "+in.Name)
	}
	for _, s := range j.Surveys {
		if s.Kind == "levels" {
			want(j.Levelling.Closing.Given(), "closing rule for level runs")
			break
		}
	}
	return m
}

// knownLevels are the marks of the job for a level book.
func (r *Run) knownLevels() map[string]convert.Known {
	k := make(map[string]convert.Known, len(r.marks))
	for name, m := range r.marks {
		k[name] = convert.Known{Level: m.Level.Length, From: "job"}
	}
	r.fromNetwork(k)
	return k
}

// worth is what the worth of book levels is worked out from.
func (r *Run) worth() levels.Uncertainty {
	w := r.Head.Job.Levelling.Worth
	if w == nil {
		return levels.Uncertainty{}
	}
	u := levels.Uncertainty{Reading: millimetres(w.Reading), Setup: millimetres(w.Setup), PerKm: millimetres(w.PerKm), Marks: map[string]float64{}}
	for name, m := range r.marks {
		u.Marks[name] = millimetres(m.Worth)
	}
	if n := r.Head.Network; n != nil && !n.Strained {
		for i := range n.Points {
			if p := &n.Points[i]; !p.Mark && p.HasSD {
				u.Marks[p.Name] = p.SD
			}
		}
	}
	return u
}

// millimetres of a length that may be left out.
func millimetres(l *job.Length) float64 {
	if l == nil {
		return 0
	}
	return l.Millimetres()
}

// pointWorth is what the points of a survey are worth; nil when the job does not
// say.
func pointWorth(s *job.Survey) *convert.Worth {
	if s.Worth == nil {
		return nil
	}
	return &convert.Worth{Own: s.Worth.Point.Millimetres(), Shared: millimetres(s.Worth.Shared)}
}

func (r *Run) levelOptions(s *job.Survey) levels.Options {
	l := &r.Head.Job.Levelling
	o := levels.Options{Rule: l.Closing.Rule, Distribute: l.Distribute, SideShotsFS: s.SideShots == "fs", Forced: l.Outside != ""}
	if l.Staff != nil {
		o.Staff = l.Staff.Length
	}
	return o
}
