package levels_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/convert/levels"
	"sightrail/formats/unit"
)

const (
	isFirst  = "an intermediate sight before any backsight; the BS of its set-up is missing"
	fsFirst  = "a foresight before any backsight; the BS of its set-up is missing"
	fsBefore = "a foresight before any backsight; the run must begin with a BS on a known mark"
	twoInOne = "an intermediate sight beside a BS or FS in one row; one row is one place of the staff, so one of them is in the wrong column"
	noEnd    = "the run ends without a foresight; its last reading must be a FS, on a known mark to close it"
	openCP   = "has a foresight and no backsight; book the BS, or declare \"sideShots: fs\" if a FS without BS is a side shot"
)

// Where runs begin and end, what is read from what, and what is wrong with a
// book. The books are invented.
func TestRunsAndMistakes(t *testing.T) {
	six := rule(t, "6 mm")
	for _, x := range []struct {
		name, book, levels, states string
		opt                        levels.Options
		mistakes                   []string
		why                        []string // of each run, where it says one
	}{
		{name: "between two marks", book: `
			BM1 1.500 - - 50.000
			A - 1.200 - -
			C 1.600 - 1.100 -
			BM2 - - 2.000 49.998`,
			levels: "50.000 50.300 50.400 50.000", states: "BM1>BM2 closed"},
		{name: "loop", book: `
			BM1 1.500 - - 50.000
			C 1.600 - 1.100 -
			BM1 - - 2.000 -`,
			levels: "50.000 50.400 50.000", states: "BM1>BM1 loop"},
		{name: "unnamed marks are not known to be two", book: `
			- 1.500 - - 50.000
			- - - 1.500 50.000`,
			levels: "50.000 50.000", states: ">? loop"},
		{name: "goes on from a mark in the same row", book: `
			BM1 1.500 - - 50.000
			BM2 1.000 - 1.000 50.503
			A - 1.200 - -
			BM3 - - 0.500 51.000`,
			levels: "50.000 50.500 50.303 51.003", states: "BM1>BM2 closed, BM2>BM3 closed"},
		{name: "goes on from a mark in the next row", book: `
			BM1 1.500 - - 50.000
			BM2 - - 1.000 50.503
			BM2 1.000 - - -
			A - 1.200 - -
			BM3 - - 0.500 51.000`,
			levels: "50.000 50.500 50.503 50.303 51.003", states: "BM1>BM2 closed, BM2>BM3 closed"},
		{name: "begins again on another mark", book: `
			BM1 1.500 - - 50.000
			BM2 - - 1.000 50.500
			BM9 1.000 - - 10.000
			BM8 - - 0.500 10.500`,
			levels: "50.000 50.500 10.000 10.500", states: "BM1>BM2 closed, BM9>BM8 closed"},
		{name: "change point over two rows, with a blank row between", book: `
			BM1 1.500 - - 50.000
			C - - 1.100 -
			- - - - -
			C 1.600 - - -
			A - 0.500 - -
			BM2 - - 2.000 50.000`,
			levels: "50.000 50.400 - 50.400 51.500 50.000", states: "BM1>BM2 closed"},
		{name: "open", book: `
			BM1 1.500 - - 50.000
			A - 1.200 - -
			B - - 1.000 -`,
			levels: "50.000 50.300 50.500", states: "BM1>? open", why: []string{""}},
		{name: "backwards from the only known mark", book: `
			A 1.500 - - -
			B - 1.200 - -
			BM2 - - 1.000 50.500`,
			levels: "50.000 50.300 50.500", states: "A>? open",
			why: []string{"it begins on no known mark; its levels are worked from BM2"}},
		{name: "from a mark between, and the last is the better one", book: `
			A 1.500 - - -
			BM1 - 1.200 - 50.300
			BM2 - - 1.000 50.500`,
			levels: "50.000 50.300 50.500", states: "A>? open",
			why: []string{"it begins on no known mark; its levels are worked from BM2"}},
		{name: "a slip before the first mark is proved by nothing", book: `
			X 1.500 - - -
			C 1.000 - 1.300 -
			BM1 - 1.200 - 50.000
			BM2 - - 1.000 50.200`,
			levels: "50.000 50.200 50.000 50.200", states: "X>? open",
			why: []string{"it begins on no known mark; its levels are worked from BM2"}},
		{name: "nothing known", book: `
			A 1.500 - - -
			B - - 1.000 -`,
			levels: "- -", states: "A>? open", why: []string{"no level in it is known"}},
		{name: "stops at one point and goes on at another", book: `
			BM1 1.500 - - 50.000
			A - - 1.000 -
			B 1.200 - - -
			C - - 1.000 -`,
			levels: "50.000 50.500 - -", states: "BM1>? open, B>? open",
			why: []string{"", "no level in it is known; the run before it ends on A, and this one begins on B"}},
		{name: "empty rows only", book: "A - - - 50.000\n- - - - -", levels: "- -", states: ""},
		{name: "BS missing at the start", book: `
			BM1 - - - 50.000
			A - 1.200 - -
			B - 1.300 - -
			BM2 - - 1.000 50.000`,
			levels: "- - - -", states: "A>? broken", mistakes: []string{"1 BS: " + isFirst}, why: []string{isFirst}},
		{name: "first reading a FS", book: `
			A - - 1.200 -
			BM2 1.000 - - 50.000
			BM3 - - 1.000 50.000`,
			levels: "- 50.000 50.000", states: "A>? broken, BM2>BM3 closed", mistakes: []string{"0 BS: " + fsFirst}},
		{name: "first row a change point", book: `
			A 1.000 - 1.200 -
			BM2 - - 1.000 50.000`,
			levels: "- -", states: "A>? broken", mistakes: []string{"0 FS: " + fsBefore}},
		{name: "FS missing at a change point", book: `
			BM1 1.500 - - 50.000
			A - 1.200 - -
			C 1.600 - - -
			B - 1.000 - -
			BM2 - - 2.000 50.000`,
			levels: "50.000 50.300 50.400 51.000 50.000", states: "BM1>? broken, C>? open",
			mistakes: []string{"2 FS: a new backsight without a foresight before it; the FS to C is missing"}},
		{name: "BS missing at a change point", book: `
			BM1 1.500 - - 50.000
			C - - 1.100 -
			A - 1.200 - -
			BM2 1.300 - 2.000 50.000
			B - 1.000 - -
			BM3 - - 1.300 50.001`,
			levels: "50.000 50.400 - 50.000 50.300 50.000", states: "BM1>? broken, BM2>BM3 closed",
			mistakes: []string{"1 BS: the change point C " + openCP}},
		{name: "BS missing where two change points follow", book: `
			BM1 1.500 - - 50.000
			C - - 1.100 -
			D 1.000 - 1.200 -
			BM2 - - 2.000 50.000`,
			levels: "50.000 50.400 - -", states: "BM1>? broken", mistakes: []string{"1 BS: the change point C " + openCP}},
		{name: "ends on an IS", book: `
			BM1 1.500 - - 50.000
			A - 1.200 - -`,
			levels: "50.000 50.300", states: "BM1>? broken", mistakes: []string{"1 FS: " + noEnd}},
		{name: "ends on an IS on a known mark", book: `
			BM1 1.500 - - 50.000
			BM2 - 1.200 - 50.300`,
			levels: "50.000 50.300", states: "BM1>? broken", mistakes: []string{"1 FS: " + noEnd}},
		{name: "ends on a BS", book: `
			BM1 1.500 - - 50.000
			BM2 1.000 - 1.200 50.300`,
			levels: "50.000 50.300", states: "BM1>BM2 closed, BM2>? broken", mistakes: []string{"1 FS: " + noEnd}},
		{name: "BS and IS in one row", book: `
			BM1 1.500 1.200 - 50.000
			A - 1.200 - -
			BM2 - - 1.000 50.500`,
			levels: "- - -", states: "BM1>? broken", mistakes: []string{"0 IS: " + twoInOne}},
		{name: "IS and FS in one row, good again from the next mark", book: `
			BM1 1.500 - - 50.000
			A - 1.200 1.100 -
			B - 1.000 - -
			BM2 1.000 - 1.000 50.500
			BM3 - - 1.000 50.500`,
			levels: "50.000 - - 50.500 50.500", states: "BM1>? broken, BM2>BM3 closed", mistakes: []string{"1 IS: " + twoInOne}},
		{name: "on from a closing mark without a new BS", book: `
			BM1 1.500 - - 50.000
			BM2 - - 1.000 50.500
			A - 1.200 - -
			B - 1.300 - -`,
			levels: "50.000 50.500 - -", states: "BM1>BM2 closed, A>? broken", mistakes: []string{"2 BS: " + isFirst}},
		{name: "one mark, two levels", book: `
			BM1 1.500 - - 50.000
			A - 1.200 - -
			BM1 - - 1.500 50.004`,
			levels: "50.000 50.300 50.000", states: "BM1>BM1 broken",
			mistakes: []string{"2 known: BM1 is 50.004 here and 50.000 in an earlier row; one mark has one level"}},
		{name: "two levels for a mark between", book: `
			BM1 1.500 - - 50.000
			BM3 - 1.200 - 50.300
			BM3 - 1.200 - 50.301
			BM2 - - 1.500 50.000`,
			levels: "50.000 50.300 50.300 50.000", states: "BM1>BM2 broken",
			mistakes: []string{"2 known: BM3 is 50.301 here and 50.300 in an earlier row; one mark has one level"}},
		{name: "millimetres taken for metres", book: `
			BM1 1500 - - 50.000
			BM2 - - 1000 50.500`,
			levels: "- -", states: "BM1>? broken", mistakes: []string{"0 BS: a reading of 1500 m is longer than any staff; check the number and the unit of the book"}},
		{name: "longer than the staff", opt: levels.Options{Staff: 5 * unit.Metre}, book: `
			BM1 1.500 - - 50.000
			A - 5.001 - -
			B - 5.000 - -
			BM2 - - 1.000 50.500`,
			levels: "50.000 - - -", states: "BM1>? broken", mistakes: []string{"1 IS: a reading of 5.001 is longer than the staff, which is 5.000; check the reading against the field book"}},
		{name: "inverted, longer than the staff", opt: levels.Options{Staff: 5 * unit.Metre}, book: `
			BM1 1.500 - - 50.000
			A - -5.001 - -
			BM2 - - 1.000 50.500`,
			levels: "50.000 - -", states: "BM1>? broken", mistakes: []string{"1 IS: a reading of 5.001 is longer than the staff, which is 5.000; check the reading against the field book"}},
		{name: "a level on no ground", book: `
			BM1 1.500 - - 2000000
			BM2 - - 1.000 50.500`,
			levels: "50.000 50.500", states: "BM1>? open", mistakes: []string{"0 known: a known level of 2000000 m is on no ground; check the number and the unit of the book"}},
		{name: "a sight that cannot be", book: `
			BM1 1.500 - - 50.000 db=-20
			BM2 - - 1.000 50.500`,
			levels: "- -", states: "BM1>? broken", mistakes: []string{"0 distance: a sight of -20 m cannot be; check the distance and its unit, or leave it blank"}},
	} {
		t.Run(x.name, func(t *testing.T) {
			x.opt.Rule, x.opt.Unit = six, unit.M
			res := reduce(t, x.book, x.opt)
			assert.Equal(t, x.states, states(res))
			assert.Equal(t, x.mistakes, mistakes(res))
			assert.Equal(t, x.levels, levelsOf(res))
			for i, why := range x.why {
				assert.Equal(t, why, res.Runs[i].Why)
			}
			for _, r := range res.Runs {
				assert.Equal(t, r.State == levels.Closed || r.State == levels.LoopClosed, r.State.Proved())
				if r.State == levels.Broken {
					assert.NotEmpty(t, r.Why)
				}
			}
			if len(x.mistakes) > 0 {
				assert.False(t, res.ArithmeticOK)
				assert.False(t, res.FirstToLast.Set)
			}
		})
	}
}

// The parts of a reduced row.
func TestReducedRows(t *testing.T) {
	res := reduce(t, `
		BM1 1.500 - - 50.000
		R - -2.300 - -
		C 1.600 - 1.100 -
		BM2 0.900 - 2.000 49.998
		D - - 1.000 -
		D 1.200 - - -
		E - - 1.200 -
		- - - - -`, levels.Options{Rule: rule(t, "6 mm")})
	assert.Empty(t, res.Mistakes)
	assert.Equal(t, "50.000 53.800 50.400 50.000 49.898 49.898 49.898 -", levelsOf(res))
	assert.Equal(t, "51.500 - 52.000 50.898 - 51.098 - -", column(res, func(r *levels.Reduced) levels.Value { return r.Collimation }))
	assert.Equal(t, "- 3.800 - - - - 0.000 -", column(res, func(r *levels.Reduced) levels.Value { return r.Rise }))
	assert.Equal(t, "- - 3.400 0.400 0.100 - - -", column(res, func(r *levels.Reduced) levels.Value { return r.Fall }))
	assert.Equal(t, "50.000 - - 49.998 - - - -", column(res, func(r *levels.Reduced) levels.Value { return r.Known }))
	var roles []levels.Role
	var runs, setups []int
	for i, r := range res.Rows {
		assert.Equal(t, i, r.Index)
		roles, runs, setups = append(roles, r.Role), append(runs, r.Run), append(setups, r.Setup)
	}
	assert.Equal(t, []levels.Role{levels.Mark, levels.Shot, levels.ChangePoint, levels.Mark, levels.ChangePoint, levels.ChangePoint, levels.Shot, levels.NoReading}, roles)
	assert.Equal(t, []int{0, 0, 0, 0, 1, 1, 1, -1}, runs)
	assert.Equal(t, []int{1, 1, 1, 2, 3, 4, 4, 0}, setups)
	assert.Equal(t, 0, res.Runs[0].First)
	assert.Equal(t, 3, res.Runs[0].Last)
	assert.Equal(t, 3, res.Runs[1].First, "the row is shared")
	assert.Equal(t, 6, res.Runs[1].Last)

	// sums: of the book, and of each run
	sums := func(s levels.Sums) [4]string {
		return [4]string{s.BS.Exact(unit.M, 3), s.FS.Exact(unit.M, 3), s.Rise.Exact(unit.M, 3), s.Fall.Exact(unit.M, 3)}
	}
	assert.Equal(t, [4]string{"5.200", "5.300", "3.800", "3.900"}, sums(res.Sums))
	assert.Equal(t, [4]string{"3.100", "3.100", "3.800", "3.800"}, sums(res.Runs[0].Sums))
	assert.Equal(t, [4]string{"2.100", "2.200", "0.000", "0.100"}, sums(res.Runs[1].Sums))
	assert.Equal(t, levels.Of(0), res.Runs[0].FirstToLast)
	assert.Equal(t, levels.Of(-100*unit.Millimetre), res.Runs[1].FirstToLast)
	assert.Equal(t, levels.Of(-100*unit.Millimetre), res.FirstToLast)
	assert.True(t, res.ArithmeticOK)
}

func TestSideShots(t *testing.T) {
	const text = `
		BM1 1.500 - - 50.000
		A - - 1.200 -
		BM3 - - 1.000 50.501
		C 1.600 - 1.100 -
		B - - 1.500 -
		D - - 1.100 -
		D 1.000 - - -
		BM2 - - 1.900 50.000`
	res := reduce(t, text, levels.Options{Rule: rule(t, "6 mm"), SideShotsFS: true})
	assert.Empty(t, mistakes(res))
	assert.Equal(t, "50.000 50.300 50.500 50.400 50.500 50.900 50.900 50.000", levelsOf(res))
	assert.Equal(t, "BM1>BM2 closed", states(res))
	assert.Equal(t, 3, res.Runs[0].Setups)
	assert.Equal(t, levels.Shot, res.Rows[1].Role)
	assert.Equal(t, levels.Mark, res.Rows[2].Role)
	assert.Equal(t, levels.ChangePoint, res.Rows[5].Role)
	require.Len(t, res.Runs[0].Marks, 1)
	assert.Equal(t, -unit.Millimetre, res.Runs[0].Marks[0].Difference)
	assert.True(t, res.ArithmeticOK, "side shots are not in the sum of FS")
	assert.Equal(t, "4.100", res.Sums.FS.Exact(unit.M, 3))

	// not declared: each of them is a change point left open
	res = reduce(t, text, levels.Options{Rule: rule(t, "6 mm")})
	require.NotEmpty(t, res.Mistakes)
	assert.Equal(t, 1, res.Mistakes[0].Index)
	assert.Contains(t, res.Mistakes[0].Text, openCP)
	for _, r := range res.Runs {
		assert.False(t, r.State.Proved())
	}
}

// Readings and sums that leave the range of a length end in a mistake.
func TestSumsBeyondTheRange(t *testing.T) {
	rows := []levels.Row{{Name: "BM1", BS: levels.Of(levels.MaxReading), Known: levels.Of(0)}}
	for range 3000 {
		rows = append(rows, levels.Row{Name: "C", FS: levels.Of(0), BS: levels.Of(levels.MaxReading)})
	}
	rows = append(rows, levels.Row{Name: "BM2", FS: levels.Of(0), Known: levels.Of(0)})
	res := levels.Reduce(rows, levels.Options{Rule: rule(t, "6 mm")})
	require.Len(t, res.Mistakes, 1)
	assert.Equal(t, "the levels of the run that begins here leave the range of ±2,342 km; check the readings and their unit", res.Mistakes[0].Text)
	assert.Equal(t, levels.Broken, res.Runs[0].State)
	assert.Equal(t, "-", levelsOf(res)[0:1])

	// levels stay in the range, the sums of BS and FS do not
	for i := range rows {
		if rows[i].FS.Set {
			rows[i].FS.L = levels.MaxReading
		}
	}
	res = levels.Reduce(rows, levels.Options{Rule: rule(t, "6 mm")})
	require.Len(t, res.Mistakes, 1)
	assert.Equal(t, "a sum of the run that begins here leaves the range of ±2,342 km; check the readings and their unit", res.Mistakes[0].Text)
	assert.False(t, res.ArithmeticOK)
	assert.False(t, res.Runs[0].State.Proved())
}

func TestEmptyBook(t *testing.T) {
	res := levels.Reduce(nil, levels.Options{})
	assert.Empty(t, res.Rows)
	assert.Empty(t, res.Runs)
	assert.False(t, res.ArithmeticOK, "nothing was checked")
	assert.False(t, res.FirstToLast.Set)
	for s := levels.Open; s <= levels.Broken; s++ {
		assert.NotEmpty(t, s.String())
	}
	assert.False(t, levels.State(0).Proved(), "the zero State proves nothing")
}
