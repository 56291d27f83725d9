package qa

import (
	"errors"
	"fmt"
	"io/fs"
	"math"

	"sightrail/convert"
	"sightrail/convert/levels"
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
	Head      Result
	files     Files
	places    *convert.Places
	books     map[int]*bookShots // by survey
	units     map[int]unit.Unit  // of point files, by survey
	untrue    map[int]string     // surveys disproved by their check shots
	unplaced  map[int]bool       // designs whose pits have no places, with a problem of its own
	once      map[int]bool       // surveys that are read only while their shots pass by
	marks     map[string]*job.BenchMark
	checks    []*running
	planes    []*convert.LaserSetup // by laserSetups
	inputs    map[string]bool
	lots      []Lot
	lotAt     map[string]int // by name
	lotIndex  *lotIndex
	byShots   []*Zone         // zones along lines through shots
	acceptors []*acceptor     // by the rules of acceptance
	ordered   int             // values kept in order along the line
	noLot     int             // shots in none of them
	former    convert.Design  // other revisions, by the names of the designs
	unbuilt   map[string]bool // designs that could not be built, with a problem of their own
	rework    *rework         // what newer shots take the place of; nil = nothing
	traces    *traces         // what rows have to do with the register; nil = nothing
	begin     []int           // where the rows of each shot of a batch begin, and the end
}

type bookShots struct{ shots []convert.Shot }

// running is one check of the job at work.
type running struct {
	kind     *Check
	common   *job.Common
	surveys  []bool             // by survey; nil = all
	outlines []*convert.Outline // any of them selects
	measurer Measurer
	zones    []*Zone  // of its limits
	cannot   string   // why nothing of this check can be assessed
	former   Measurer // the same check against the other revision; nil = none
	fit      tally    // of former
	again    []Row
	tally    tally
	shots    []convert.Shot
	rows     []Row
	at, of   []int // rows of the batch that are of the check, and their shots
	remarks  []string
}

// Prepare reads and checks everything but the points. The error is for a job
// that cannot be run at all: a file that is not there, a design that is stale.
func Prepare(j *job.Job, kinds []*Check, files Files, version string) (*Run, error) {
	r, err := newRun(j, files, version, CheckFiles(j))
	if err != nil {
		return nil, err
	}
	r.Head.Missing = missing(j)
	if err := r.readLots(); err != nil {
		return nil, err
	}
	if err := r.start(kinds); err != nil {
		return nil, err
	}
	r.startAcceptance()
	if err := r.readRegister(); err != nil {
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
	r := &Run{files: files, places: convert.NewPlaces(), books: map[int]*bookShots{}, units: map[int]unit.Unit{}, untrue: map[int]string{}, once: map[int]bool{}, unplaced: map[int]bool{},
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
		l.add(j.Designs[i].Pits, "designs[%d].pits", i)
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
	for i := range j.Lots {
		if o := j.Lots[i].Polygon; o != nil {
			l.add(o.File, "lots[%d].polygon.file", i)
		}
	}
	for i := range j.Checks {
		if c, ok := j.Checks[i].Params.(commoner); ok {
			if o := c.CommonOf().Shots.Polygon; o != nil {
				l.add(o.File, "checks[%d].%s.shots.polygon.file", i, j.Checks[i].Kind)
			}
		}
		if p, ok := j.Checks[i].Params.(zoned); ok {
			for k, z := range p.ZonesOf() {
				at := fmt.Sprintf("checks[%d].%s.tolerance.zones[%d]", i, j.Checks[i].Kind, k)
				if z.Polygon != nil {
					l.add(z.Polygon.File, "%s.polygon.file", at)
				}
				if z.Near != nil {
					l.add(z.Near.File, "%s.near.file", at)
				}
			}
		}
	}
	l.add(j.Register, "register")
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
		if l := j.Designs[i].GradedLine; l != nil {
			set(l.From.Easting.Value, l.From.Northing.Value, l.From.Easting.In)
			return
		}
		u := linearUnit(d, declared(j.Designs[i].Unit))
		for k := range d.Surfaces {
			if v := d.Surfaces[k].Vertices; len(v) > 0 && u.Known() {
				set(v[0].E, v[0].N, u)
				return
			}
		}
		for k := range d.Alignments {
			if e := d.Alignments[k].Elements; len(e) > 0 && e[0].Start.Placed && u.Known() {
				set(e[0].Start.E, e[0].Start.N, u)
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
		for k := range d.Points {
			if p := &d.Points[k]; p.Placed && u.Known() {
				set(p.E, p.N, u)
				return
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
