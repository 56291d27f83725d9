package qa

import (
	"fmt"
	"slices"
	"strings"

	"sightrail/convert"
	"sightrail/convert/levels"
	"sightrail/convert/plane"
	"sightrail/formats"
	"sightrail/formats/unit"
	"sightrail/qa/job"
)

// StaffLength is how long a staff is taken to be where the job does not say it:
// that of a common telescopic staff. Common practice, no published source.
const StaffLength = 5 * unit.Metre

// MaxSetoutRows is how many rows one set-out sheet may have.
const MaxSetoutRows = 10_000

// SetoutResult is every set-out sheet of a job, for the writers.
type SetoutResult struct {
	Version  string // of the program
	Job      *job.Job
	Frame    convert.Frame
	Sheets   []SetoutSheet
	Inputs   []Input
	Problems []formats.Problem
	Notes    []formats.Problem
}

// SetoutSheet is one sheet: a run of pipes by chainage, or a pad by points.
type SetoutSheet struct {
	Of       *job.Setout
	What     string // what is set out, in words
	Date     string // of the sheet
	Plane    string // the laser plane in words; "" = no laser
	Rows     []SetoutRow
	Warnings []string // what must be known before the sheet is used
	Remarks  []string // how the figures were made
	Why      string   // why there is not a row
	HasTop   bool     // the outside top of the pipe is known somewhere
}

// SetoutRow is one chainage or point. A figure that is not known is not set, and
// Remark or the remarks of the sheet say why.
type SetoutRow struct {
	Name     string // of a pit or point; "" between pits
	Pipe     string
	Chainage levels.Value
	Place    convert.Place
	Placed   bool

	Design       levels.Value // invert of the pipe, or level of the pad at its stage
	TrenchBottom levels.Value // invert less wall less bedding
	Top          levels.Value // outside top of the barrel: invert plus bore plus wall

	Plane          levels.Value // level of the laser plane
	StaffDesign    levels.Value // staff reading on the invert or the pad: plane less design
	StaffTrench    levels.Value // staff reading on the bottom of the trench
	Receiver       levels.Value // what the receiver's mark is above the plane when the edge is at its level
	Rail           levels.Value // level of the sight rail: what the traveller stands on plus traveller
	Ground         levels.Value
	RailOverGround levels.Value
	Dig            levels.Value // ground less trench bottom, or less pad; minus is fill

	DesignAt string // what the design level comes from
	GroundAt string
	pit      string   // at its centre
	Remarks  []string // each a sentence without figures of its own, so that equal ones are equal
}

func (r *SetoutRow) remark(s string) { r.Remarks = append(r.Remarks, s) }

// edge is the level that is dug or cut to: the bottom of the trench, or the pad.
func (r *SetoutRow) edge(run bool) levels.Value {
	if run {
		return r.TrenchBottom
	}
	return r.Design
}

// Setout works out the set-out sheets of a job. It needs no survey: design,
// places and ground are all it reads. The error is for a job that cannot be
// worked at all; what one sheet lacks is a problem, and the sheet says it.
func Setout(j *job.Job, files Files, version string) (*SetoutResult, error) {
	if len(j.Setout) == 0 {
		return nil, formats.ErrorList{{Pos: j.Where("setout"), Field: "setout", Text: "the job has no set-out sheets; add \"setout:\" with a run of pipes or a pad"}}
	}
	r, err := newRun(j, files, version, SetoutFiles(j))
	if err != nil {
		return nil, err
	}
	out := &SetoutResult{Version: version, Job: j}
	for i := range j.Setout {
		w := &setoutWork{Run: r, of: &j.Setout[i], path: fmt.Sprintf("setout[%d]", i)}
		if err := w.work(); err != nil {
			return nil, err
		}
		out.Sheets = append(out.Sheets, w.sheet)
	}
	if n := len(r.Head.Problems); n > 0 {
		for i := range out.Sheets {
			s := &out.Sheets[i]
			s.Warnings = append(s.Warnings, fmt.Sprintf("Of all that this job asks for, %s could not be read or worked out: see the list at the end before this sheet is used.", number(n, "thing", "things")))
		}
	}
	out.Frame, out.Inputs, out.Problems, out.Notes = r.Head.Frame, r.Head.Inputs, r.Head.Problems, r.Head.Notes
	return out, nil
}

// SetoutFiles lists the files that the set-out sheets of a job are worked out
// from.
func SetoutFiles(j *job.Job) []JobFile {
	var l fileList
	l.designs(j)
	for i := range j.Setout {
		if p := j.Setout[i].Points; p != nil {
			l.add(p.File, "setout[%d].points.file", i)
		}
		if g := j.Setout[i].Ground; g != nil {
			l.add(g.File, "setout[%d].ground.file", i)
		}
	}
	return l
}

// setoutWork works one sheet out.
type setoutWork struct {
	*Run
	of    *job.Setout
	path  string       // of the sheet in the job file
	plane *plane.Plane // nil = none
	turn  float64      // of the laser, by its sight mark, in radians
	staff unit.Length
	sheet SetoutSheet
}

// cannot says why something of the sheet is not worked out: on the sheet, and
// with its place in the job file.
func (w *setoutWork) cannot(key, format string, args ...any) {
	text := fmt.Sprintf(format, args...)
	w.warn("%s", text)
	w.problem(w.Head.Job.Where(w.path+"."+key), w.of.Name, "%s", text)
}

func (w *setoutWork) say(format string, args ...any) {
	w.sheet.Remarks = append(w.sheet.Remarks, fmt.Sprintf(format, args...))
}

func (w *setoutWork) warn(format string, args ...any) {
	w.sheet.Warnings = append(w.sheet.Warnings, fmt.Sprintf(format, args...))
}

// print writes a length in the unit of the job, with its unit.
func (w *setoutWork) print(l unit.Length) string {
	return l.Exact(w.Head.Frame.Unit, Places(w.Head.Frame.Unit)) + " " + w.Head.Frame.Unit.Name
}

// rounded writes a computed level as the page prints it.
func (w *setoutWork) rounded(l unit.Length) string {
	return l.Fixed(w.Head.Frame.Unit, Places(w.Head.Frame.Unit)) + " " + w.Head.Frame.Unit.Name
}

// Places is how many decimals levels are printed with in a unit: millimetres, or
// thousandths of a foot.
func Places(u unit.Unit) int {
	if u == unit.MM {
		return 0
	}
	return 3
}

func (w *setoutWork) work() error {
	w.sheet.Of, w.sheet.What = w.of, "surface of the design "+w.of.Design
	if w.of.Run() {
		w.sheet.What = "pipes " + joined(w.of.Pipes) + " of the design " + w.of.Design
	}
	w.date()
	w.staff = StaffLength
	if s := w.Head.Job.Levelling.Staff; s != nil {
		w.staff = s.Length
	}
	w.setLaser()
	var err error
	if w.of.Run() {
		w.run()
	} else {
		err = w.pad()
	}
	if err != nil {
		return err
	}
	for i := range w.sheet.Rows {
		w.onPlane(&w.sheet.Rows[i])
	}
	if err := w.ground(); err != nil {
		return err
	}
	for i := range w.sheet.Rows {
		w.overGround(&w.sheet.Rows[i])
	}
	w.rules()
	return nil
}

func number(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// date is that of the sheet, of its laser set-up, or of the survey.
func (w *setoutWork) date() {
	w.sheet.Date = w.of.Date
	for i := range w.Head.Job.LaserSetups {
		if l := &w.Head.Job.LaserSetups[i]; l.Name == w.of.Laser && w.sheet.Date == "" {
			w.sheet.Date = l.Date
		}
	}
	if w.sheet.Date == "" {
		w.sheet.Date = w.Head.Job.SurveyDate
	}
}

// onPlane works out what is read on the laser plane, and the rail.
func (w *setoutWork) onPlane(r *SetoutRow) {
	run := w.of.Run()
	if w.plane != nil && r.Placed {
		l, err := w.plane.At(plane.Place(r.Place))
		if err != nil {
			r.remark("the plane is beyond any level here: check the grade and the place of its mark")
		} else {
			r.Plane = levels.Of(l)
		}
	}
	if r.Plane.Set {
		for _, x := range []struct {
			on   levels.Value
			to   *levels.Value
			what string
		}{{r.Design, &r.StaffDesign, onWhat(run)}, {r.TrenchBottom, &r.StaffTrench, "the bottom of the trench"}} {
			if !x.on.Set {
				continue
			}
			*x.to = levels.Of(r.Plane.L - x.on.L)
			switch {
			case x.to.L < 0:
				r.remark("the plane is below " + x.what + ": no staff reading, raise or move the laser")
			case x.to.L > w.staff:
				r.remark("a staff of " + w.print(w.staff) + " on " + x.what + " does not reach the plane: move the laser")
			}
		}
		if e := r.edge(run); w.of.Receiver != nil && e.Set {
			r.Receiver = levels.Of(e.L - plane.EdgeLevel(r.Plane.L, 0, w.of.Receiver.Length, 0))
		}
	}
	if w.of.Traveller != nil {
		stands := r.Design
		if w.of.TravellerOn == job.OnTrenchFloor {
			stands = r.TrenchBottom
		}
		if stands.Set {
			r.Rail = levels.Of(stands.L + w.of.Traveller.Length)
		}
	}
}

func onWhat(run bool) string {
	if run {
		return "the invert"
	}
	return "the pad"
}

// overGround works out the dig, and how far the rail stands above the ground.
func (w *setoutWork) overGround(r *SetoutRow) {
	w.sheet.HasTop = w.sheet.HasTop || r.Top.Set
	if !r.Ground.Set {
		return
	}
	if e := r.edge(w.of.Run()); e.Set {
		r.Dig = levels.Of(r.Ground.L - e.L)
		if w.of.Run() && r.Dig.L < 0 {
			r.remark("the ground is below the bottom of the trench")
		}
	}
	if r.Rail.Set {
		r.RailOverGround = levels.Of(r.Rail.L - r.Ground.L)
		if r.RailOverGround.L <= 0 {
			r.remark("the rail is not above the ground: use a longer traveller")
		}
	}
}

// rules says how the figures of the sheet were made.
func (w *setoutWork) rules() {
	if w.sheet.Why != "" {
		return
	}
	if w.of.Run() && !slices.ContainsFunc(w.sheet.Rows, func(r SetoutRow) bool { return r.TrenchBottom.Set }) {
		if w.of.TravellerOn == job.OnTrenchFloor {
			w.cannot("travellerOn", "Sight rail: not known; the traveller stands on the bottom of the trench, which is not known.")
		}
		if w.of.Receiver != nil {
			w.cannot("receiver", "Receiver: not known; it cuts to the bottom of the trench, which is not known.")
		}
	}
	if t := w.of.Traveller; t != nil {
		stands := "pad"
		switch {
		case w.of.TravellerOn == job.OnTrenchFloor:
			stands = "bottom of the trench"
		case w.of.Run():
			stands = "invert"
		}
		w.say("Sight rail = %s + traveller of %s; the traveller stands on the %s.", stands, w.print(t.Length), stands)
	}
	if w.plane != nil {
		w.planeRemarks()
		w.turned()
	}
	if w.of.Receiver != nil && w.plane != nil {
		edge := "the pad"
		if w.of.Run() {
			edge = "the bottom of the trench"
		}
		w.say("Receiver: its mark is %s over the cutting edge, the arm upright; with the edge on %s the mark is so far over the plane, minus is under it.", w.print(w.of.Receiver.Length), edge)
	}
	if w.of.Ground == nil {
		w.say("Dig is not known: the job gives no ground.")
		return
	}
	known := 0
	for i := range w.sheet.Rows {
		if w.sheet.Rows[i].Ground.Set {
			known++
		}
	}
	less := "pad; minus is fill"
	if w.of.Run() {
		less = "bottom of the trench"
	}
	w.say("Dig = ground less %s.", less)
	switch n := len(w.sheet.Rows) - known; {
	case known == 0:
		w.warn("Dig: not known; the ground is known at none of the rows.")
	case n > 0:
		w.say("The ground is not known at %d of %s.", n, number(len(w.sheet.Rows), "row", "rows"))
	}
}

// planeRemarks says whether the reading is the same along the whole sheet.
func (w *setoutWork) planeRemarks() {
	var least, most *SetoutRow
	for i := range w.sheet.Rows {
		r := &w.sheet.Rows[i]
		if !r.StaffDesign.Set {
			continue
		}
		if least == nil || r.StaffDesign.L < least.StaffDesign.L {
			least = r
		}
		if most == nil || r.StaffDesign.L > most.StaffDesign.L {
			most = r
		}
	}
	if least == nil {
		return
	}
	on := onWhat(w.of.Run())
	if d := most.StaffDesign.L - least.StaffDesign.L; d > unit.Millimetre/2 {
		w.warn("The plane does not run with the design: the reading on %s goes from %s at %s to %s at %s. Use the reading of each row.",
			on, w.rounded(least.StaffDesign.L), w.rowName(least), w.rounded(most.StaffDesign.L), w.rowName(most))
		return
	}
	w.say("The plane runs with the design: the reading on %s is the same at every row, to half a millimetre.", on)
}

// rowName names a row in a sentence.
func (w *setoutWork) rowName(r *SetoutRow) string {
	if r.Name != "" {
		return r.Name
	}
	return "chainage " + w.sheet.ChainageOf(r, w.Head.Frame.Unit)
}

func joined(words []string) string {
	if n := len(words); n > 1 {
		return strings.Join(words[:n-1], ", ") + " and " + words[n-1]
	}
	return strings.Join(words, "")
}
