package convert

import (
	"fmt"
	"slices"
	"strings"

	"sightrail/convert/levels"
	"sightrail/formats"
	"sightrail/formats/unit"
)

// BookOptions tell how a book is reduced.
type BookOptions struct {
	Unit   unit.Unit // of readings and levels, where the book does not say it
	Known  map[string]Known
	Levels levels.Options
	// Worth is what the worth of levels is worked out from; not at all where it
	// gives nothing.
	Worth levels.Uncertainty
	// HalfInterval is how far the two half intervals of three wires may differ: a
	// limit of the job, beyond which the reading is not used. 0 is none given:
	// then UsualHalfInterval makes a note.
	HalfInterval unit.Length
	// Stadia is the constant that turns the interval of the outer wires into the
	// length of the sight, where the book has none; 0 makes none.
	Stadia int64
	// Corrections of the readings, each shown in Corrected.
	Corrections levels.Corrections
}

// UsualHalfInterval is noted where the job gives no limit. Common practice, no
// published source.
const UsualHalfInterval = 3 * unit.Millimetre

// Known is a level that is given, and who gave it.
type Known struct {
	Level unit.Length
	From  string // "job", "--known"
}

// ReducedBook is a book with its reduction. Rows has one entry for every row
// of the book.
type ReducedBook struct {
	Book      *formats.Book
	Unit      unit.Unit // that lengths are printed in; decimal feet of a book kept in feet and inches
	Rows      []levels.Row
	Result    *levels.Result
	Problems  []formats.Problem
	Notes     []formats.Problem
	Corrected []Corrected // readings that were corrected, in order
	Worth     *Worth      // of the levels that Shots returns; nil when not known
	bad       []string    // a run: the first problem in it
	worth     levels.Uncertainty
	in        unit.Unit // of the numbers of the book
}

// Roles of the columns of a book, as decoders name them.
const (
	colBS, colIS, colFS = "BS", "IS", "FS"
)

// ReduceBook reduces a level book. Known levels are, in this order: what the
// options say, the column KNOWN, and the booked level of the first and of the
// last row where the book has no other booked level (labelled "from the book").
// Any other booked level is verified and never believed.
func ReduceBook(b *formats.Book, opt BookOptions) *ReducedBook {
	r := &ReducedBook{Book: b, Unit: b.Unit, worth: opt.Worth}
	if !r.Unit.Known() {
		r.Unit = opt.Unit
	}
	if !r.Unit.Known() {
		r.problem(0, 0, "", "the book does not say the unit of its readings; write it in the headings, such as \"BS (m)\", or declare it: \"unit: m\" in the job file, --unit on the command line")
		return r
	}
	r.Rows = make([]levels.Row, len(b.Rows))
	if r.in = r.Unit; b.FeetInches {
		r.Unit = unit.Ft
	}
	distUnit := b.DistIn
	if !distUnit.Known() {
		distUnit = unit.M
		if r.Unit == unit.Ft || r.Unit == unit.FtUS {
			distUnit = r.Unit
		}
	}
	first, last, others, looked := 0, 0, false, false // the ends of the book, where they are asked for
	var worked []levels.Booked                        // room for the rows to come
	finest := uint8(0)
	for i := range b.Rows {
		in, out := &b.Rows[i], &r.Rows[i]
		out.Name = in.Point
		r.readings(in, out, &opt)
		f := in.RowFigures
		if f != nil {
			r.distances(in, out, distUnit)
		}
		r.stadia(in, out, opt.Stadia)
		var said levels.Booked
		if f != nil {
			said.Rise = r.length(in.Row, &f.Rise, r.in, "rise")
			said.Fall = r.length(in.Row, &f.Fall, r.in, "fall")
			said.Collimation = r.length(in.Row, &f.Collimation, r.in, "collimation")
			finest = max(finest, places(&f.Rise), places(&f.Fall), places(&f.Collimation))
		}
		said.Level = r.length(in.Row, &in.Level, r.in, "level")
		if said != (levels.Booked{}) {
			if worked == nil {
				worked = make([]levels.Booked, len(b.Rows)-i)
			}
			worked[0] = said
			out.Booked, worked = &worked[0], worked[1:]
		}
		finest = max(finest, places(&in.Level), places(&in.BS), places(&in.IS), places(&in.FS))
		known := r.length(in.Row, &in.Known, r.in, "known")
		k, given := opt.Known[in.Point]
		switch {
		case given && in.Point != "":
			out.Known, out.KnownFrom = levels.Of(k.Level), k.From
			if known.Set && known.L != k.Level {
				r.problem(in.Row, in.Known.Col, "known", "%s is %s here and %s by %s; one mark has one level", in.Point,
					known.L.Exact(r.Unit, 3), k.Level.Exact(r.Unit, 3), k.From)
			}
		case known.Set:
			out.Known, out.KnownFrom = known, "column KNOWN"
		}
		if in.Level.Set && !out.Known.Set {
			if !looked {
				first, last, others = bookedEnds(b)
				looked = true
			}
			if i == first || i == last && !others {
				out.Known, out.KnownFrom = said.Level, "from the book"
			}
		}
	}
	lo := opt.Levels
	lo.Unit = r.Unit
	var booked []levels.Row
	if opt.Corrections.Given() {
		booked = slices.Clone(r.Rows)
		r.correct(opt.Corrections)
	}
	if lo.BookedWithin == 0 {
		// half of the last place that was booked
		u := r.Unit
		if b.FeetInches { // what was booked is in decimal feet, readings in fractions of an inch
			finest = bookedPlaces(b)
		}
		if half, err := (unit.Decimal{Coef: 5, Places: finest + 1}).Length(u); err == nil {
			lo.BookedWithin = half
		}
	}
	r.Result = levels.Reduce(r.Rows, lo)
	if booked != nil { // what was booked was worked out from the readings as they are
		raw := levels.Reduce(booked, lo)
		r.Result.BookedAny, r.Result.BookedDiffers = raw.BookedAny, raw.BookedDiffers
	}
	for _, m := range r.Result.Mistakes {
		if (m.Field == colBS || m.Field == colFS) && r.follows(m.Index) {
			r.note(b.Rows[m.Index].Row, r.column(m), m.Field, "%s", m.Text)
			continue
		}
		r.problem(b.Rows[m.Index].Row, r.column(m), m.Field, "%s", m.Text)
	}
	for _, m := range r.Result.BookedDiffers {
		r.note(b.Rows[m.Index].Row, r.column(m), m.Field, "%s", m.Text)
	}
	return r
}

// distances takes over how long the sights of a row are.
func (r *ReducedBook) distances(in *formats.BookRow, out *levels.Row, u unit.Unit) {
	out.DistBS = r.length(in.Row, &in.DistanceBS, u, "distance")
	out.DistFS = r.length(in.Row, &in.DistanceFS, u, "distance")
	d := r.length(in.Row, &in.Distance, u, "distance")
	if !d.Set {
		return
	}
	switch { // one column: the sight of the reading the row has
	case in.FS.Set && in.BS.Set:
		r.problem(in.Row, in.Distance.Col, "distance", "one distance beside a BS and a FS does not say which sight it is; use the columns \"distance BS\" and \"distance FS\", or head it chainage if it is measured along the line")
	case in.BS.Set:
		out.DistBS = d
	case in.FS.Set:
		out.DistFS = d
	default:
		out.DistIS = d
	}
}

// places is how many decimals a number has that is there.
func places(x *formats.Reading) uint8 {
	if !x.Set {
		return 0
	}
	return x.Value.Places
}

// follows reports whether a mistake of the arithmetic follows from a row beside
// it that could not be read: the file has that as a problem already.
func (r *ReducedBook) follows(i int) bool {
	if r.Book.Rows[i].Bad != "" {
		return true
	}
	for _, step := range []int{-1, 1} {
		for k := i + step; k >= 0 && k < len(r.Rows); k += step {
			row := &r.Rows[k]
			if r.Book.Rows[k].Bad != "" {
				return true
			}
			if row.BS.Set || row.IS.Set || row.FS.Set {
				break
			}
		}
	}
	return false
}

// bookedPlaces is how many decimals of a foot a feet-inches book has in its worked
// columns, which decoders turn into inches: at least two, as such books are kept.
func bookedPlaces(b *formats.Book) uint8 {
	const usual = 2
	for i := range b.Rows {
		row := &b.Rows[i]
		if places(&row.Level) > usual {
			return places(&row.Level)
		}
		if row.RowFigures != nil && places(&row.Collimation) > usual {
			return places(&row.Collimation)
		}
	}
	return usual
}

// OpenEnds names the runs that begin or end on no known mark, at the row of that
// end. They are no mistakes of the book, but none of their levels is proved.
func (r *ReducedBook) OpenEnds() (list []formats.Problem) {
	if r.Result == nil {
		return nil
	}
	for i := range r.Result.Runs {
		run := &r.Result.Runs[i]
		if run.State != levels.Open {
			continue
		}
		at := func(i int, col string, format string) {
			row := &r.Book.Rows[i]
			name := row.Point
			if name == "" {
				name = "a point without a name"
			}
			list = append(list, formats.Problem{Pos: r.Book.Pos.At(row.Row, r.column(levels.Mistake{Index: i, Field: col})), Field: col, Text: fmt.Sprintf(format, name)})
		}
		if !r.Result.Rows[run.First].Known.Set && (i == 0 || r.Result.Runs[i-1].State != levels.Broken) { // else it follows from that
			at(run.First, colBS, "the run begins on %s, which has no known level; its levels are not assessed: give the level of the mark, or begin on one that has it")
		}
		if !r.Result.Rows[run.Last].Known.Set {
			at(run.Last, colFS, "the run ends on %s, which has no known level, so that nothing closes it; its levels are not assessed: end on a known mark, or give the level of this one")
		}
	}
	return list
}

// Corrected is a reading with its corrections.
type Corrected struct {
	Index    int    // of the row
	Sight    string // "BS", "IS" or "FS"
	Booked   unit.Length
	Distance levels.Value
	Items    levels.Items
	Reading  unit.Length // as reduced
}

// correct applies the corrections to the readings. One that cannot be corrected
// is a problem, and is not used.
func (r *ReducedBook) correct(c levels.Corrections) {
	for i := range r.Rows {
		in, row, staff := &r.Book.Rows[i], &r.Rows[i], ""
		if in.RowNotes != nil {
			staff = in.Staff
		}
		for _, x := range []struct {
			name string
			col  int
			v    *levels.Value
			dist levels.Value
		}{{colBS, in.BS.Col, &row.BS, row.DistBS}, {colIS, in.IS.Col, &row.IS, row.DistIS}, {colFS, in.FS.Col, &row.FS, row.DistFS}} {
			if !x.v.Set {
				continue
			}
			l, items, err := c.Apply(x.v.L, x.dist, staff)
			if err != nil {
				r.problem(in.Row, x.col, x.name, "%v", err)
				x.v.Set = false
				continue
			}
			r.Corrected = append(r.Corrected, Corrected{i, x.name, x.v.L, x.dist, items, l})
			x.v.L = l
		}
	}
}

// bookedEnds finds the first and the last row that hold anything, and whether
// a row between them has a booked level too.
func bookedEnds(b *formats.Book) (first, last int, others bool) {
	first, last = -1, -1
	for i := range b.Rows {
		if b.Rows[i].Blank() {
			continue
		}
		if first < 0 {
			first = i
		}
		last = i
	}
	for i := first + 1; i < last; i++ {
		others = others || b.Rows[i].Level.Set
	}
	return first, last, others
}

// readings turns the staff readings of a row: an inverted one is negative.
func (r *ReducedBook) readings(in *formats.BookRow, out *levels.Row, opt *BookOptions) {
	var bs, is, fs *formats.Wires
	if w := in.RowWires; w != nil {
		bs, is, fs = &w.WiresBS, &w.WiresIS, &w.WiresFS
	}
	if in.BS.Set {
		out.BS = r.reading(in, colBS, &in.BS, bs, opt)
	}
	if in.IS.Set {
		out.IS = r.reading(in, colIS, &in.IS, is, opt)
	}
	if in.FS.Set {
		out.FS = r.reading(in, colFS, &in.FS, fs, opt)
	}
}

// reading turns one staff reading of a row; wires are nil where the book has none.
func (r *ReducedBook) reading(in *formats.BookRow, name string, x *formats.Reading, wires *formats.Wires, opt *BookOptions) levels.Value {
	v := r.length(in.Row, x, r.in, name)
	if !v.Set {
		return v
	}
	if wires != nil && wires.Upper.Set && wires.Lower.Set {
		up := r.length(in.Row, &wires.Upper, r.in, name+" upper")
		lo := r.length(in.Row, &wires.Lower, r.in, name+" lower")
		if up.Set && lo.Set {
			mean, above, below := levels.ThreeWire(up.L, v.L, lo.L)
			if !r.halves(in.Row, x.Col, name, above, below, opt.HalfInterval) {
				return levels.Value{}
			}
			v.L = mean
		}
	}
	negative := v.L < 0
	switch {
	case in.Inverted || x.Bracket:
		v.L = -v.L.Abs()
	case negative && r.Book.HasFlag:
		r.problem(in.Row, x.Col, name, "%s is negative but the row is not flagged as an inverted staff; set the flag or remove the sign", x.Value)
		v.Set = false
	case negative:
		r.note(in.Row, x.Col, name, "%s is negative and taken as an inverted staff", x.Value)
	}
	return v
}

// halves compares the two half intervals of three wires. It reports whether the
// reading may be used.
func (r *ReducedBook) halves(row, col int, name string, above, below, limit unit.Length) bool {
	off := (above.Abs() - below.Abs()).Abs()
	what := fmt.Sprintf("the half intervals of the three wires are %s and %s, %s mm apart", above.Abs().Exact(r.Unit, 3), below.Abs().Exact(r.Unit, 3), off.Exact(unit.MM, 1))
	switch {
	case above.Sign()*below.Sign() < 0:
		r.problem(row, col, name, "the middle wire is not between the outer two; read the three wires again from the field book")
		return false
	case limit > 0 && off > limit:
		r.problem(row, col, name, "%s, more than the limit of %s mm; the reading is not used", what, limit.Exact(unit.MM, 1))
		return false
	case limit == 0 && off > UsualHalfInterval:
		r.note(row, col, name, "%s; the job gives no limit, and %s mm is usual (common practice)", what, UsualHalfInterval.Exact(unit.MM, 0))
	}
	return true
}

// stadia takes the lengths of sights from the outer wires where the book has
// none.
func (r *ReducedBook) stadia(in *formats.BookRow, out *levels.Row, constant int64) {
	if constant == 0 || in.RowWires == nil {
		return
	}
	for _, x := range []struct {
		name  string
		wires formats.Wires
		at    *levels.Value
	}{{colBS, in.WiresBS, &out.DistBS}, {colIS, in.WiresIS, &out.DistIS}, {colFS, in.WiresFS, &out.DistFS}} {
		if x.at.Set || !x.wires.Upper.Set || !x.wires.Lower.Set {
			continue
		}
		up, err := x.wires.Upper.Value.Length(r.in)
		lo, err2 := x.wires.Lower.Value.Length(r.in)
		if err != nil || err2 != nil {
			continue // said with the reading
		}
		d, err := levels.StadiaDistance(up, lo, constant)
		if err != nil {
			r.problem(in.Row, x.wires.Upper.Col, x.name, "the interval of the outer wires times %d is no length of a sight: %v", constant, err)
			continue
		}
		*x.at = levels.Of(d)
	}
}

func (r *ReducedBook) length(row int, x *formats.Reading, u unit.Unit, field string) levels.Value {
	if !x.Set {
		return levels.Value{}
	}
	l, err := x.Value.Length(u)
	if err != nil {
		r.problem(row, x.Col, field, "%s: %v", x.Value, err)
		return levels.Value{}
	}
	return levels.Of(l)
}

// column finds the cell that a mistake of the arithmetic speaks of.
func (r *ReducedBook) column(m levels.Mistake) int {
	row := &r.Book.Rows[m.Index]
	cells := map[string]formats.Reading{"bs": row.BS, "is": row.IS, "fs": row.FS, "level": row.Level, "known": row.Known, "rise": {}, "fall": {}, "collimation": {}}
	if f := row.RowFigures; f != nil {
		cells["rise"], cells["fall"], cells["collimation"] = f.Rise, f.Fall, f.Collimation
	}
	x, ok := cells[strings.ToLower(m.Field)]
	switch {
	case !ok:
		return 0
	case x.Col > 0:
		return x.Col
	}
	return r.role(m.Field)
}

func (r *ReducedBook) role(name string) int {
	for _, c := range r.Book.Columns {
		if strings.EqualFold(c.Role, name) {
			return c.Col
		}
	}
	return 0
}

func (r *ReducedBook) problem(row, col int, field, format string, args ...any) {
	r.Problems = append(r.Problems, formats.Problem{Pos: r.Book.Pos.At(row, col), Field: field, Text: fmt.Sprintf(format, args...)})
}

func (r *ReducedBook) note(row, col int, field, format string, args ...any) {
	r.Notes = append(r.Notes, formats.Problem{Pos: r.Book.Pos.At(row, col), Field: field, Text: fmt.Sprintf(format, args...)})
}

// Shots returns a shot for every row of the book, in order. A row of a run that
// is not proved is not assessed, and says why; so is every row of a run that
// holds a problem of the reduction, or a BS or FS that could not be read.
// adjusted takes the adjusted level where there is one. unread are the problems
// the decoder had with the file: they say why a row has no reading.
func (r *ReducedBook) Shots(survey int, adjusted bool, unread []formats.Problem) []Shot {
	shots := make([]Shot, len(r.Book.Rows))
	bad := map[int]string{}
	for _, p := range slices.Concat(r.Problems, unread) {
		if _, ok := bad[p.Pos.Row]; !ok && p.Pos.Part == r.Book.Pos.Part {
			bad[p.Pos.Row] = p.Text
		}
	}
	r.distrust(unread)
	if r.Result != nil && r.worth.Given() {
		if w, err := r.Result.Worth(r.worth, adjusted); err == nil {
			r.Worth = &Worth{Book: w}
		}
	}
	for i := range r.Book.Rows {
		in, s := &r.Book.Rows[i], &shots[i]
		*s = Shot{ID: in.Point, Code: in.Code, Survey: survey, Pos: r.Book.Pos.At(in.Row, cellOf(in))}
		if n := in.RowNotes; n != nil {
			s.Run, s.Staffed = n.Run, n.Staffed
		}
		if r.Result == nil {
			s.Reason = "the book could not be reduced"
			if in.Blank() {
				s.Use, s.Reason = Blank, ""
			}
			continue
		}
		r.fill(s, in, &r.Result.Rows[i], adjusted)
		if why := bad[in.Row]; why != "" && s.Use != Blank {
			s.Use, s.Reason, s.Levelled = NotAssessed, why, false
		}
		if in.RowNotes != nil && (s.Use == Assessed || s.Use == NotAssessed) {
			s.Chained = in.Chainage.Set
			if c := r.chain(in.Chainage); c.Set {
				s.Chainage = c.L
			}
			if o := r.chain(in.Offset); o.Set {
				s.Offset = o.L
			}
		}
	}
	return shots
}

// distrust names the runs that hold a problem; no level of them is assessed. A
// row whose BS and FS are both unreadable drops out of the run, which may still
// close by chance. Only an intermediate sight that could not be read costs no
// more than its own row.
func (r *ReducedBook) distrust(unread []formats.Problem) {
	if r.Result == nil {
		return
	}
	r.bad = make([]string, len(r.Result.Runs))
	name := func(p formats.Problem) {
		for k := range r.Result.Runs {
			run := &r.Result.Runs[k]
			if first, last := r.Book.Rows[run.First].Row, r.Book.Rows[run.Last].Row; p.Pos.Row >= first && p.Pos.Row <= last && r.bad[k] == "" {
				r.bad[k] = p.String()
			}
		}
	}
	for _, p := range r.Problems {
		name(p)
	}
	for _, p := range unread {
		if p.Field != colIS && p.Pos.Part == r.Book.Pos.Part {
			name(p)
		}
	}
}

// Mistaken says of every run the first problem in it, "" where there is none:
// none of the levels of such a run is assessed, though it may have closed. It is
// known once Shots was called.
func (r *ReducedBook) Mistaken() []string { return r.bad }

func (r *ReducedBook) chain(x formats.Reading) levels.Value {
	if !x.Set {
		return levels.Value{}
	}
	l, err := x.Value.Length(r.in)
	if err != nil {
		return levels.Value{}
	}
	return levels.Of(l)
}

func cellOf(in *formats.BookRow) int {
	for _, x := range [...]*formats.Reading{&in.IS, &in.FS, &in.BS, &in.Known, &in.Level} {
		if x.Set {
			return x.Col
		}
	}
	return 0
}

// fill takes over what the reduction says of one row.
func (r *ReducedBook) fill(s *Shot, in *formats.BookRow, red *levels.Reduced, adjusted bool) {
	if in.Blank() {
		s.Use = Blank
		return
	}
	if red.Level.Set {
		s.Level, s.Levelled, s.Worth = red.Level.L, true, Worthy{Of: r.Worth, Row: int32(red.Index)}
		if adjusted && red.Adjusted.Set {
			s.Level, s.Adjusted = red.Adjusted.L, true
		}
	}
	switch red.Role {
	case levels.Mark:
		s.Use, s.Reason = Control, "bench mark"
		return
	case levels.ChangePoint:
		s.Use, s.Reason = Control, "change point"
		return
	case levels.NoReading:
		s.Use, s.Reason, s.Levelled = NotAssessed, "no reading in this row", false
		return
	}
	if red.Run < 0 || red.Run >= len(r.Result.Runs) {
		s.Use, s.Reason = NotAssessed, "the reading belongs to no run"
		return
	}
	run := &r.Result.Runs[red.Run]
	switch {
	case !s.Levelled:
		s.Use, s.Reason = NotAssessed, "no level could be worked out: "+run.State.String()
	case r.bad[red.Run] != "":
		s.Use, s.Reason = NotAssessed, "its run holds a mistake: "+r.bad[red.Run]
	case !run.State.Proved():
		s.Use, s.Reason = NotAssessed, "its run is not proved: "+run.State.String()
		if run.Why != "" {
			s.Reason += " (" + run.Why + ")"
		}
	default:
		s.Use = Assessed
	}
}
