// Package levels does the arithmetic of level books: reduction by height of
// collimation and by rise and fall, sums, verification of what was booked,
// closing on known marks and the distribution of a misclosure that is inside
// its limit. Numbers in, numbers out; it opens no file and prints nothing.
//
// A reading is a Length, + upwards on a staff that stands on the point and
// negative on an inverted staff. Level = collimation − reading. A change point
// is a row with FS and BS, or a row with FS and the next one, of the same name,
// with BS; a set-up is one BS and all that is read until the next. Misclosure is
// computed minus known; corrections have the opposite sign, and the correction
// of set-up k applies to its collimation.
//
// A known level belongs to the mark of that name, in every row that has it. A
// run ends where a FS stands on a known mark, and what is read after that begins
// a new one, from the known level of the mark and not from the level that was
// carried to it: a misclosure does not run on. The row that two runs share has
// the computed level that closed the first. A run that begins on no known mark
// is worked backwards, and is open, because nothing proves its beginning. An IS
// on a known mark is a check shot: it ends nothing, and a run that disproves a
// mark is not used. After a mistake a run has no more levels.
//
// Accuracy: sums and levels are exact; a distributed correction is rounded once
// to one count of Length. TestRandomBooks draws books from known levels and
// compares both reductions with those, and with each other.
package levels

import "sightrail/formats/unit"

// Value is a length that may be absent.
type Value struct {
	Set bool
	L   unit.Length
}

// Of makes a Value that is there.
func Of(l unit.Length) Value { return Value{true, l} }

// Row is one row of a book, in the order of observation.
type Row struct {
	Name       string
	BS, IS, FS Value // inverted readings are negative
	DistBS     Value // length of the sight of BS, IS and FS
	DistIS     Value
	DistFS     Value
	Known      Value   // level that is given
	KnownFrom  string  // who gave it: "job", "--known", "column KNOWN"; or FromBook
	Booked     *Booked // what the book itself worked out; nil where that is nothing
}

// FromBook is the KnownFrom of a level that only the book itself gives.
const FromBook = "from the book"

// Booked is what a book worked out by hand; it is verified, never believed.
type Booked struct{ Rise, Fall, Collimation, Level Value }

// Distribution is how a misclosure inside its limit is shared out.
type Distribution string

// The ways to distribute.
const (
	NoDistribution Distribution = ""
	BySetups       Distribution = "setups"
	ByDistance     Distribution = "distance"
)

// Options of a reduction.
type Options struct {
	Rule        Rule         // closing limit; the zero Rule judges nothing
	Distribute  Distribution // only ever done inside the limit
	SideShotsFS bool         // a FS without BS is a side shot, not an open change point
	// Staff is the length of the staff: no reading is longer. 0 is not known, and
	// MaxReading holds.
	Staff unit.Length
	// Forced distributes a misclosure outside its limit too. The run stays out of
	// its limit, and its levels are shown, not assessed.
	Forced bool
	// BookedWithin is how far a booked value may be from the recomputed one
	// before it is called wrong: half of the last place booked, usually.
	BookedWithin unit.Length
	Unit         unit.Unit // of the book, that messages print lengths in; metres, so named, when not known
}

// Reduced is one row after reduction. Index is its place in the rows given.
type Reduced struct {
	Index       int
	Collimation Value // of the set-up that begins at this row (BS)
	Rise, Fall  Value
	Level       Value // raw
	Adjusted    Value // raw plus correction; set only when the run was distributed
	Known       Value // level of the mark, from whichever row gives it
	Role        Role
	Setup       int // that its level was read from, counted from 1 through the book; 0 is none
	Run         int // index into Result.Runs; -1 when the row is in none
}

// Role is what a row is to its run.
type Role uint8

// The roles of a row. The zero Role is a row without a reading.
const (
	NoReading Role = iota
	Shot           // IS, or a side shot
	ChangePoint
	Mark // a row with a known level
)

// State says whether the levels of a run may be used.
type State uint8

// The states of a run. The zero State is open.
const (
	Open       State = iota // ends on no known mark
	Closed                  // closed inside its limit on a known mark other than the first
	LoopClosed              // closed inside its limit on the mark it began on: mark unproved
	OutOfLimit              // misclosure, or the sight on a mark between, beyond the limit
	NotJudged               // closed, but there is no rule or it needs distances that are missing
	Broken                  // a reading is missing or wrong, or a change point is left open
)

// Proved reports whether levels of a run in this state are assessed.
func (s State) Proved() bool { return s == Closed || s == LoopClosed }

var stateWords = [...]string{
	"open: ends on no known mark", "closed", "closed on its own mark: mark unproved",
	"misclosure beyond the limit", "closed, limit not judged", "broken: a reading is missing or in the wrong place",
}

func (s State) String() string { return stateWords[s] }

// Run is a stretch of a book from one known mark to the next, or to the end.
type Run struct {
	First, Last int    // indices of rows, inclusive; the first may be the last of the run before
	From, To    string // names of the marks; To is "" when the run is open
	State       State
	Why         string // one sentence more, for the report
	Setups      int
	Distance    Value // sum of sights of BS and FS; not set when one is missing
	Misclosure  Value // computed minus known at To
	Allowed     Value // by the rule, rounded for print; judged exactly
	Distributed Distribution
	Forced      bool        // distributed although outside its limit
	Marks       []MarkCheck // sights on known marks between its ends
	Sums        Sums
	FirstToLast Value // last raw level minus first
}

// MarkCheck is a sight on a known mark between the ends of a run. It is judged
// by the rule of the run, over the set-ups and sights from the first mark to it.
type MarkCheck struct {
	Index      int
	Name       string
	Difference unit.Length // computed minus known
	Allowed    Value       // rounded for print; judged exactly
	Judged     bool
	Within     bool // only when Judged
}

// Sums of a book or of a run of it. FS that are side shots are not in them.
type Sums struct{ BS, FS, Rise, Fall unit.Length }

// Mistake is a booked value or a row that is wrong.
type Mistake struct {
	Index int    // row
	Field string // "rise", "fall", "collimation", "level", "BS", "FS", ...
	Text  string
}

// Result is a reduced book.
type Result struct {
	Rows          []Reduced // one for every row given
	Runs          []Run
	Sums          Sums
	FirstToLast   Value     // last raw level minus first, added over the runs
	ArithmeticOK  bool      // ΣBS − ΣFS = ΣRise − ΣFall = last − first
	BookedAny     bool      // something was booked to compare with
	Mistakes      []Mistake // in order of rows; levels after one are not trusted
	BookedDiffers []Mistake // booked values that disagree with the recomputed ones

	book *book // the set-ups behind the levels
}
