package qa

import (
	"fmt"
	"math/big"
	"strings"

	"sightrail/convert"
	"sightrail/formats"
	"sightrail/formats/unit"
	"sightrail/qa/job"
)

// survey readies one survey file: a level book is reduced whole, of a point
// file the shots on known marks are compared first, because they decide whether
// its other shots may be assessed.
func (r *Run) survey(i int) error {
	s := &r.Head.Job.Surveys[i]
	if s.Kind == "levels" {
		return r.levelBooks(i, s)
	}
	if s.Kind == "laser" {
		return r.laserFile(i, s)
	}
	return r.pointFile(i, s)
}

// reduceForNetwork reduces every level book of the job by itself, and adjusts
// their runs together, where the job asks for it.
func (r *Run) reduceForNetwork() error {
	j := r.Head.Job
	if j.Levelling.Network == nil {
		return nil
	}
	var books []levelled
	for i := range j.Surveys {
		s := &j.Surveys[i]
		if s.Kind != "levels" {
			continue
		}
		d, err := r.decode(s.File, "levels", s.Reading.Options(formats.LevelContent))
		if err != nil {
			return err
		}
		for k := range d.Books {
			books = append(books, levelled{i, convert.ReduceBook(&d.Books[k], r.bookOptions(s))})
		}
	}
	r.network(books)
	return nil
}

func (r *Run) bookOptions(s *job.Survey) convert.BookOptions {
	opt := convert.BookOptions{Known: r.knownLevels(), Levels: r.levelOptions(s), Worth: r.worth(), Corrections: r.Head.Job.Corrected()}
	if l := &r.Head.Job.Levelling; l.HalfInterval != nil {
		opt.HalfInterval = l.HalfInterval.Length
	}
	opt.Stadia = int64(r.Head.Job.Levelling.Stadia)
	opt.Unit = s.Reading.Declared()
	return opt
}

func (r *Run) levelBooks(i int, s *job.Survey) error {
	d, err := r.decode(s.File, "levels", s.Reading.Options(formats.LevelContent))
	if err != nil {
		return err
	}
	b := &bookShots{}
	r.books[i] = b
	if len(d.Books) == 0 {
		r.Head.Proved = append(r.Head.Proved, fmt.Sprintf("%s: no level book could be read", s.File))
		if len(d.Problems) == 0 {
			r.problem(formats.Pos{File: s.File}, "", "no level book was found: no heading row with BS and FS")
		}
	}
	for k := range d.Books {
		book := convert.ReduceBook(&d.Books[k], r.bookOptions(s))
		r.Head.Problems = append(r.Head.Problems, book.Problems...)
		r.Head.Problems = append(r.Head.Problems, book.OpenEnds()...)
		r.Head.Notes = append(r.Head.Notes, book.Notes...)
		r.Head.Books = append(r.Head.Books, BookResult{Survey: i, Book: book.Book, Unit: book.Unit, Input: book.Rows, Result: book.Result,
			Rule: r.Head.Job.Levelling.Closing.Rule})
		shots := book.Shots(i, r.Head.Job.Levelling.Judge == "adjusted", d.Problems)
		r.accused(i, book, shots)
		b.shots = append(b.shots, shots...)
		r.Head.Books[len(r.Head.Books)-1].Worth = book.Worth
		r.Head.Books[len(r.Head.Books)-1].Corrected = book.Corrected
		r.Head.Books[len(r.Head.Books)-1].Mistaken = book.Mistaken()
		r.Head.Proved = append(r.Head.Proved, r.provedByRuns(s.File, book)...)
	}
	return nil
}

// provedByRuns says, a sentence a run, whether the levels of a book are proved.
func (r *Run) provedByRuns(file string, b *convert.ReducedBook) []string {
	if b.Result == nil {
		return []string{file + ": levels not proved: the book could not be reduced"}
	}
	name := file
	if b.Book.Pos.Part != "" {
		name += " [" + b.Book.Pos.Part + "]"
	}
	var out []string
	for k := range b.Result.Runs {
		run := &b.Result.Runs[k]
		line := fmt.Sprintf("%s: run from %s", name, nameOr(run.From, "no mark"))
		if run.To != "" {
			line += " to " + run.To
		}
		if run.Misclosure.Set {
			line += fmt.Sprintf(": misclosure %s mm", run.Misclosure.L.Fixed(unit.MM, 1))
			if run.Allowed.Set {
				line += fmt.Sprintf(", allowed %s mm (%s)", run.Allowed.L.Fixed(unit.MM, 1), r.Head.Job.Levelling.Closing.Text)
			}
		}
		line += ": " + run.State.String()
		if run.Forced {
			line += "; ADJUSTED ALTHOUGH OUTSIDE ITS LIMIT, because the job says so (" + r.Head.Job.Levelling.Outside + ")"
		}
		if !run.State.Proved() {
			line += ": levels not proved"
		}
		out = append(out, line)
	}
	return out
}

func nameOr(name, other string) string {
	if name == "" {
		return other
	}
	return name
}

// pointFile reads a point file once for its shots on known marks. The points
// themselves pass by in Each.
func (r *Run) pointFile(i int, s *job.Survey) error {
	if r.readOnce(s) {
		r.once[i], r.units[i] = true, s.Reading.Declared()
		if key := "points\x00" + s.File; !r.inputs[key] {
			r.inputs[key] = true
			r.Head.Inputs = append(r.Head.Inputs, Input{File: strings.ReplaceAll(s.File, `\`, "/"), Role: "points"})
		}
		r.checkShots(i, s, nil)
		return nil
	}
	var shots []convert.Shot
	reader := convert.PointReader{Frame: &r.Head.Frame, Unit: unit.M, Survey: i, Laser: s.Kind == "laser"}
	opt := s.Reading.Options(formats.PointContent)
	// the unit of the file is known only at its end: keep the points
	var marked []markPoint
	opt.Points = func(at formats.Pos, batch []formats.Point) error {
		for k := range batch {
			if r.marks[batch[k].ID] != nil {
				marked = append(marked, markPoint{at, batch[k]})
			}
		}
		return nil
	}
	d, err := r.decode(s.File, "points", opt)
	if err != nil {
		return err
	}
	u := linearUnit(d, s.Reading.Declared())
	if !u.Known() && len(d.Problems) > 0 {
		r.untrue[i], u = "the file could not be read", r.Head.Frame.Unit
	}
	if !u.Known() {
		r.problem(r.Head.Job.Where(fmt.Sprintf("surveys[%d].file", i)), "unit",
			"%s does not say its unit; write it in the headings, such as \"Level (m)\", or declare \"unit: m\" here", s.File)
		r.untrue[i] = "the unit of the file is not known"
		u = r.Head.Frame.Unit
	}
	if d.CRS.EPSG != "" && r.Head.Frame.EPSG != "" && d.CRS.EPSG != r.Head.Frame.EPSG {
		why := fmt.Sprintf("%s is in EPSG:%s, the job in EPSG:%s; one of them is wrong", s.File, d.CRS.EPSG, r.Head.Frame.EPSG)
		r.problem(formats.Pos{File: s.File}, "", "%s", why)
		r.untrue[i] = why
	}
	r.units[i] = u
	reader.Unit = u
	for _, m := range marked {
		shots = append(shots, reader.Shots(m.at, []formats.Point{m.p})...)
		r.levelOnPlane(s, &shots[len(shots)-1])
	}
	r.checkShots(i, s, shots)
	return nil
}

type markPoint struct {
	at formats.Pos
	p  formats.Point
}

// checkShots compares the shots on known marks with the marks.
func (r *Run) checkShots(i int, s *job.Survey, shots []convert.Shot) {
	limit := &r.Head.Job.CheckShots
	off, judged, compared := 0, 0, 0
	for _, shot := range shots {
		m := r.marks[shot.ID]
		c := CheckShot{Shot: shot, Mark: m.Name, Within: true}
		if !shot.Levelled {
			continue
		}
		compared++
		c.LevelDiff = shot.Level - m.Level.Length
		if limit.Level != nil {
			c.LevelLimit, c.Judged = limit.Level.Length, true
			c.Within = c.LevelDiff.Abs() <= limit.Level.Length
			judged++ // a limit in plan alone proves no level
		}
		if m.Easting != nil && m.Northing != nil && shot.Placed {
			if p, err := r.place(*m.Easting, *m.Northing); err == nil {
				de, dn := shot.Place.E-p.E, shot.Place.N-p.N
				c.PlanDiff, c.HasPlan = hypot(de, dn), true
				if limit.Plan != nil {
					c.PlanLimit, c.Judged = limit.Plan.Length, true
					c.Within = c.Within && within(de, dn, limit.Plan.Length)
				}
			}
		}
		r.Head.Marks = append(r.Head.Marks, c)
		if !c.Within {
			off++
			r.note(shot.Pos, "level", "check shot on %s is off by %s mm in level%s; its file is not assessed", m.Name, c.LevelDiff.Fixed(unit.MM, 1), planWords(c))
		}
	}
	switch {
	case compared == 0 && s.Kind == "laser":
		// its set-ups are proved, or not, by themselves
	case compared == 0:
		r.Head.Proved = append(r.Head.Proved, s.File+": levels not proved: no shot on a known mark")
	case off > 0:
		r.untrue[i] = fmt.Sprintf("%d of %d check shots on known marks are outside their limit", off, compared)
		r.Head.Proved = append(r.Head.Proved, s.File+": levels not proved: "+r.untrue[i])
	case judged < compared:
		r.Head.Proved = append(r.Head.Proved, fmt.Sprintf("%s: levels not proved: %d shots on known marks, but the job gives no limit (checkShots) to judge their levels", s.File, compared))
	default:
		r.Head.Proved = append(r.Head.Proved, fmt.Sprintf("%s: levels proved by %d shots on known marks", s.File, compared))
	}
}

func planWords(c CheckShot) string {
	if !c.HasPlan {
		return ""
	}
	return " and " + c.PlanDiff.Fixed(unit.MM, 0) + " mm in plan"
}

// within compares de² + dn² with limit² in whole numbers.
func within(de, dn, limit unit.Length) bool {
	sq := func(l unit.Length) *big.Int { b := big.NewInt(int64(l)); return b.Mul(b, b) }
	sum := sq(de)
	return sum.Add(sum, sq(dn)).Cmp(sq(limit)) <= 0
}

// hypot is for print.
func hypot(de, dn unit.Length) unit.Length {
	b := new(big.Int).Mul(big.NewInt(int64(de)), big.NewInt(int64(de)))
	b.Add(b, new(big.Int).Mul(big.NewInt(int64(dn)), big.NewInt(int64(dn))))
	b.Sqrt(b)
	if !b.IsInt64() {
		return unit.MaxLength
	}
	return unit.Length(b.Int64())
}
