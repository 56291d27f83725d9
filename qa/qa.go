// Package qa says what a check is, what a result row is, how verdicts add up,
// and runs the checks of a job over its survey. The checks themselves are in
// the folder checks, the limits in limits, the job file in job, the reports in
// report.
package qa

import (
	"math"

	"sightrail/convert"
	"sightrail/convert/levels"
	"sightrail/formats"
	"sightrail/formats/unit"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// Verdict of a whole run.
type Verdict string

// The verdicts of a run: VerdictFail if anything failed; else VerdictIncomplete
// if anything was not assessed, or nothing was; else VerdictPass.
const (
	VerdictPass       Verdict = "pass"
	VerdictFail       Verdict = "fail"
	VerdictIncomplete Verdict = "incomplete"
)

// Quantity is what a row measures.
type Quantity string

// The quantities.
const (
	QuantityNone     Quantity = ""         // a row that measures nothing: control, excluded, blank
	QuantityLevel    Quantity = "level"    // of a surface
	QuantityInvert   Quantity = "invert"   // of a pipe
	QuantityGrade    Quantity = "grade"    // of a pipe, pit to pit
	QuantityBackfall Quantity = "backfall" // between neighbouring shots of a pipe

	QuantityFall       Quantity = "fall"        // of a pipe over a stated base; a grade
	QuantitySag        Quantity = "sag"         // of a pipe below a line
	QuantityInvertLine Quantity = "invert line" // of a pipe, off the line between its built ends, in level
	QuantityLine       Quantity = "line"        // of a pipe, in plan
	QuantityStep       Quantity = "step"        // at a joint of two pipes
	QuantityDrop       Quantity = "drop"        // of a pipe at its pit
	QuantityCover      Quantity = "cover"       // over a pipe
	QuantityPlace      Quantity = "place"       // of a pit, in plan
	QuantityThickness  Quantity = "thickness"   // of a layer
	QuantityMean       Quantity = "mean level"  // of an area, over design; from volumes
	QuantityGap        Quantity = "gap"         // under a straightedge
	QuantityCrossfall  Quantity = "crossfall"   // of a surface: the rise to the right over a distance
	QuantityPonding    Quantity = "ponding"     // depth of standing water

	QuantityIrregularities Quantity = "irregularities" // of a profile, counted
	QuantityCoverage       Quantity = "coverage"       // radius without a shot
)

// LineFrom begins DesignAt where what is compared with is the straight line between
// two shots.
const LineFrom = "line from "

// Alone reports whether a quantity is judged by itself and not as a difference from
// a design value: Design is 0.
func (q Quantity) Alone() bool {
	switch q {
	case QuantityLine, QuantityPlace, QuantityCover, QuantityCoverage, QuantityGap, QuantityPonding, QuantityMean:
		return true
	}
	return false
}

// InPlan reports whether a quantity is a length in plan, to which the uncertainty of
// a level says nothing.
func (q Quantity) InPlan() bool {
	return q == QuantityLine || q == QuantityPlace || q == QuantityCoverage
}

// Levels reports whether Design and Measured of a quantity are levels, so that what
// fails is lowered or raised; else they are lengths.
func (q Quantity) Levels() bool {
	switch q {
	case QuantityStep, QuantityDrop, QuantityThickness, QuantityCrossfall:
		return false
	}
	return !q.Alone()
}

// Row is one result. Rows that come from a row of input carry its Shot; rows
// worked out of several (grade, backfall) carry the shot they are shown at and
// name the others in Reason.
type Row struct {
	Check    int // index into the checks of the job; -1 = no check
	Quantity Quantity
	Derived  bool // worked out of several rows of input; not in the row account
	Shot     convert.Shot
	Pipe     string      // name of the pipe
	Along    unit.Length // downstream from the upstream end of Pipe
	OnPipe   bool
	// DesignAt is what the design value comes from: "pipe P1", "plane S"; where it is
	// empty and On is set, Face of it. Origin tells either.
	DesignAt string
	On       *convert.Surface
	Face     int32

	Design, Measured, Diff unit.Length // levels, when Compared
	Compared               bool
	DesignGrade, Grade     unit.Grade // falls, + downstream, of a row that is Graded
	LeastGrade             unit.Grade // what Grade is judged by; Run is 0 when there is none

	// U is the standard uncertainty of Diff in mm, of the fall where the row is a
	// grade; the design counts as exact.
	U    float64
	HasU bool

	Limits  limits.Tolerance
	Verdict limits.Verdict
	Decided string      // the outcome in the words of the decision rule; "" with simple acceptance
	Beyond  unit.Length // how far past the limit it broke, with its sign
	Action  string      // "cut 12", "fill 12", "lower 9", "raise 9": mm, to design
	Reason  string
	Note    string // what may explain the value; it changes no verdict
	Trace   *Trace // what it has to do with rework, register and concessions; nil = nothing
}

// Graded tells whether the row is judged as a grade, by Grade and LeastGrade in
// place of Design, Measured and Diff.
func (r *Row) Graded() bool {
	return r.Quantity == QuantityGrade || r.Quantity == QuantityFall
}

// Origin is what the design value comes from: "face 118 of FG", "pipe P1".
func (r *Row) Origin() string {
	if r.DesignAt == "" && r.On != nil {
		return r.On.Face(r.Face)
	}
	return r.DesignAt
}

// GradeWords are the design fall and the fall as built in words, each "" where it
// is not known. The built one never contradicts the verdict beside it.
func (r *Row) GradeWords() (design, built string) {
	if r.DesignGrade.Run > 0 {
		design = r.DesignGrade.OneIn()
	}
	if r.Grade.Run > 0 {
		built = limits.PrintedGrade(r.Grade.Rise, r.Grade.Run, r.LeastGrade)
	}
	return design, built
}

// Check is a kind of check, as a value in the list of qa/checks.
type Check struct {
	Name  string // key in the job file
	Title string
	Doc   string // one paragraph: what it measures, and against what
	// Formula, Source and Example make the page of the check, with Doc: how the
	// value is worked out, where the method is published (or that it is common
	// practice), and a worked figure that a test holds.
	Formula, Source, Example string
	// Presets are the kinds of preset that its tolerances may name: "level",
	// "thickness". Others, and all where it names none, are refused.
	Presets []string
	// NoDesign says that the check can do without a design.
	NoDesign bool
	// Single says that it judges each shot by itself: Finish gives remarks about the
	// job only, so that a run can be made in parts.
	Single bool
	// Informs says that the check may have nothing to judge: its figures are what it
	// is for.
	Informs bool
	// Params makes a pointer to the parameters the job file fills: a struct
	// that embeds job.Common inline.
	Params func() any
	// Start readies a measurer. An error is about the job: a design that is
	// not there, a limit that is missing.
	Start func(params any, s *Setting) (Measurer, error)
}

// Setting is what a measurer stands in.
type Setting struct {
	Design *convert.Design
	Frame  *convert.Frame
	// Area is the outline that the shots of the check are selected by, or nil;
	// Lots are those of the job. What is worked out for an area is worked out for
	// each lot that lies in a polygon, else for Area, else for where the shots are.
	Area []*convert.Outline
	Lots []Lot
	// Zones are those of the tolerance of the check, in its order; what lies in them
	// can be asked in Batch. PlanWorth is the standard uncertainty of places in plan,
	// by survey; 0 where the job does not say.
	Zones     []*Zone
	PlanWorth []unit.Length
}

// Measurer measures the shots that a check selected.
type Measurer interface {
	// Batch fills rows[i] for shots[i]: what was compared, limits, verdict,
	// action, reason. Rows arrive with Check and Shot set, verdict not
	// assessed. What Finish needs of them it keeps. A shot that is not judged
	// itself, because what Finish works out rests on it, gets Shot.Use Control.
	Batch(shots []convert.Shot, rows []Row)
	// Finish returns the rows worked out of several shots, in order, each
	// Derived, and remarks for the report.
	Finish() (rows []Row, remarks []string)
}

// PlaceMeasurer is a measurer that may judge a shot by nothing but its place and its
// level. Its methods, and Batch where ByPlace returns a surface, are safe for use by
// several goroutines.
type PlaceMeasurer interface {
	Measurer
	// ByPlace returns the surface that it judges by; nil where something else counts too.
	ByPlace() *convert.Surface
	// At fills in what depends on the level of the shot and on z, the level of the
	// surface at its place: design, measured, difference, verdict, beyond and action. The
	// row is one that Batch filled for another shot.
	At(r *Row, z unit.Length)
}

// Figurer is a measurer with figures that are not judged: volumes, capacities.
// They are asked for after Finish.
type Figurer interface{ Figures() []Figure }

// Figure is a number for the report that no limit judges.
type Figure struct {
	Of    string  `json:"of"`   // the lot, pipe or patch it is of; "" = the check
	Name  string  `json:"name"` // "volume above design"
	Value float64 `json:"value"`
	Unit  string  `json:"unit"`  // "m³"; "" for a count or a ratio
	Print string  `json:"print"` // Value as it is printed, without the unit
}

// Counts of one check.
type Counts struct {
	Assessed    int `json:"assessed"`
	Pass        int `json:"pass"`
	Fail        int `json:"fail"`
	NotAssessed int `json:"notAssessed"`
}

// Stats of the differences of one check, in millimetres, from the exact sums.
type Stats struct {
	N             int     `json:"n"`
	MeanMm        float64 `json:"meanMm"`
	SdMm          float64 `json:"sdMm"`
	RmsMm         float64 `json:"rmsMm"`
	MinMm         float64 `json:"minMm"`
	MaxMm         float64 `json:"maxMm"`
	Within        int     `json:"within"`
	WithinPercent float64 `json:"withinPercent"`

	High int `json:"high"` // beyond the upper limit
	Low  int `json:"low"`  // beyond the lower limit
	// RunOfFailures is the largest number of failures one after the other along a
	// line, of assessed values; RunOrder says how they were put in order. -1 with
	// more than MaxValues of them.
	RunOfFailures int    `json:"runOfFailures"`
	RunOrder      string `json:"runOrder"`
	// Quantiles are those of QuantilePercents by limits.QuantileDefinition, in
	// millimetres. With more than MaxValues differences they are those of whole
	// millimetres, and Coarse says so.
	Quantiles []float64 `json:"quantilesMm"`
	Coarse    bool      `json:"quantilesOfWholeMm"`
}

// QuantilePercents are the percentages of Stats.Quantiles; the middle one is the
// median.
var QuantilePercents = []int{5, 25, 50, 75, 95}

// MedianMm is the median, NaN without any value.
func (s *Stats) MedianMm() float64 {
	if len(s.Quantiles) == 0 {
		return math.NaN()
	}
	return s.Quantiles[len(QuantilePercents)/2]
}

// MaxValues is how many differences of a check are kept for quantiles and for the
// largest run of failures.
const MaxValues = 250_000

// CheckResult is what one check of the job came to.
type CheckResult struct {
	Kind   *Check
	Common job.Common
	Counts Counts
	Stats  Stats
	Limits limits.Tolerance
	// Acceptance is by lot, or one for the whole job, where the job has a rule for
	// the check; Accepted are the failing points that lots are accepted with.
	Acceptance []AcceptanceResult
	Accepted   int
	Former     *FormerFit // fit to another revision of the design; nil when there is none
	Remarks    []string   // for the report: "ends only: a sag between them cannot be seen"
	Figures    []Figure   // numbers that are not judged
	// Histogram of Diff in whole millimetres, for the report: mm → count,
	// sorted by mm.
	Histogram []Bin
}

// FormerFit is how the shots of a check fit another revision of its design.
// Nothing is judged by it.
type FormerFit struct {
	Revision string
	Counts   Counts
	Stats    Stats
}

// Bin is one bar of a histogram.
type Bin struct{ Mm, N int }

// Account is the row account: Read is the sum of the others, always.
type Account struct {
	Read        int `json:"read"`
	Assessed    int `json:"assessed"`
	Control     int `json:"control"`
	Superseded  int `json:"superseded"`
	Excluded    int `json:"excluded"`
	NotAssessed int `json:"notAssessed"`
	Blank       int `json:"blank"`
}

// Input is one file that was read.
type Input struct {
	File   string `json:"file"`
	SHA256 string `json:"sha256"`
	Role   string `json:"role"` // "job", "levels", "points", "places", "design", "outline", "register"
	Format string `json:"format"`
	Bytes  int64  `json:"bytes"`
}

// BookResult is one reduced level book, for the report.
type BookResult struct {
	Survey    int // index in the job
	Book      *formats.Book
	Unit      unit.Unit
	Input     []levels.Row // as reduced: bookUnit applied, inverted turned
	Result    *levels.Result
	Rule      levels.Rule
	Worth     *convert.Worth      // nil when not known
	Mistaken  []string            // of every run, the first problem in it: none of its levels is assessed
	Corrected []convert.Corrected // readings that were corrected
}

// CheckShot is a point of a point file on a known mark.
type CheckShot struct {
	Shot       convert.Shot
	Mark       string
	LevelDiff  unit.Length // measured minus known
	PlanDiff   unit.Length
	HasPlan    bool
	Within     bool
	Judged     bool // the job gives a limit
	LevelLimit unit.Length
	PlanLimit  unit.Length
}

// Missing is a piece of evidence the job does not give.
type Missing struct{ What string }

// MaxKept is how many failures are kept for page and workbook, MaxRows how many
// rows. What is beyond is in results.csv, and counted.
const (
	MaxKept = 100_000
	MaxRows = 50_000
)

// MaxWorst is how many failures a verdict names.
const MaxWorst = 3

// Result is a whole run, for the reports.
type Result struct {
	Version  string // of the program
	Job      *job.Job
	Frame    convert.Frame
	Site     *SiteResult    // nil when the job has no site grid
	Earth    *convert.Earth // takes places to WGS 84
	GridOnly bool           // GIS outputs are in the job's grid
	Columns  []string       // of results.csv, and properties of the GeoJSON; nil = all
	Design   *convert.Design
	Verdict  Verdict
	Complete bool
	Checks   []CheckResult
	Lots     []LotResult // of the lots of the job, in its order
	Account  Account
	Inputs   []Input
	Books    []BookResult
	Lasers   []LaserResult
	Network  *NetworkResult // nil when the job asks for none
	Marks    []CheckShot
	Proved   []string // one sentence a survey: how its levels are proved, or that they are not
	Missing  []string // evidence not supplied, in plain words
	Problems []formats.Problem
	Notes    []formats.Problem

	Rows         []Row // the first MaxRows, in order
	RowCount     int
	Rounds       []Round // the first MaxKept shots that a newer one took the place of
	RoundCount   int
	Conceded     int       // failures under a concession
	Register     *Register // nil when the job makes no patches
	Failures     []Row     // the first MaxKept
	Worst        []Row     // of all, the MaxWorst to look at first
	FailureCount int
}
