package levels_test

import (
	"fmt"
	"math/big"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/convert/levels"
	"sightrail/formats/unit"
)

// random is a book drawn from known levels: readings are made from the true
// level of each point and of the instrument, so that the reduction must find
// the levels again.
type random struct {
	rows   []levels.Row
	level  []unit.Length // of every row, as the readings give it; true but at closing marks
	hpc    []levels.Value
	errors []unit.Length // of each run: what its last FS reads too little
	setups []int         // of each run
	sights []unit.Length // of each run
	step   unit.Length
	side   bool
	loops  []bool
}

func drawBook(t *rapid.T, withErrors bool) *random {
	b := &random{side: rapid.Bool().Draw(t, "side shots in FS")}
	b.step = rapid.SampledFrom([]unit.Length{unit.Millimetre, unit.Millimetre / 10, unit.InternationalFoot / 100, unit.InternationalFoot / 1000, unit.USSurveyFoot / 1000}).Draw(t, "step")
	up := func(lo, hi int64, what string) unit.Length {
		return unit.Length(rapid.Int64Range(lo, hi).Draw(t, what)) * b.step
	}
	dist := func() levels.Value {
		return levels.Of(unit.Length(rapid.Int64Range(5, 60).Draw(t, "sight")) * unit.Metre)
	}
	add := func(r levels.Row, level unit.Length, hpc levels.Value) {
		b.rows, b.level, b.hpc = append(b.rows, r), append(b.level, level), append(b.hpc, hpc)
	}
	runs := rapid.IntRange(1, 4).Draw(t, "runs")
	first := up(-50_000, 500_000, "first level")
	mark, name := first, "BM0"
	here, shared := mark, false
	point := 0
	for k := range runs {
		setups := rapid.IntRange(1, 5).Draw(t, "set-ups")
		total := unit.Length(0)
		e := unit.Length(0)
		if withErrors {
			e = up(-30, 30, "error")
		}
		loop := false
		var bs levels.Row
		for s := range setups {
			hpc := here + up(0, 4000, "height of instrument")
			if s == 0 && rapid.IntRange(0, 5).Draw(t, "inverted BS") == 0 {
				hpc = here - up(1, 3000, "below a soffit")
			}
			if !shared {
				bs = levels.Row{Name: name}
				if s == 0 {
					bs.Known, bs.KnownFrom = levels.Of(mark), "column KNOWN"
				}
				add(bs, here, levels.Value{})
			}
			row := &b.rows[len(b.rows)-1]
			row.BS, row.DistBS = levels.Of(hpc-here), dist()
			total += row.DistBS.L
			b.hpc[len(b.hpc)-1] = levels.Of(hpc)
			for range rapid.IntRange(0, 3).Draw(t, "shots") {
				point++
				level := hpc - up(-4000, 4000, "reading") // negative is inverted
				r := levels.Row{Name: fmt.Sprint("P", point)}
				if b.side && rapid.Bool().Draw(t, "side shot") {
					r.FS = levels.Of(hpc - level)
				} else {
					r.IS = levels.Of(hpc - level)
				}
				add(r, level, levels.Value{})
				if rapid.IntRange(0, 9).Draw(t, "empty row") == 0 {
					add(levels.Row{}, 0, levels.Value{})
				}
			}
			r := levels.Row{DistFS: dist()}
			total += r.DistFS.L
			next := hpc - up(-500, 4000, "foresight")
			if s == setups-1 {
				r.Name = fmt.Sprint("BM", k+1)
				if k == 0 && rapid.IntRange(0, 3).Draw(t, "loop") == 0 {
					loop, next, r.Name = true, first, "BM0"
				}
				r.Known, r.KnownFrom = levels.Of(next), "column KNOWN"
				r.FS = levels.Of(hpc - next + e)
				add(r, next-e, levels.Value{})
				mark, name = next, r.Name
				// the book goes on in the same row, or in the next
				shared = k < runs-1 && rapid.Bool().Draw(t, "same row")
			} else {
				point++
				r.Name = fmt.Sprint("C", point)
				r.FS = levels.Of(hpc - next)
				add(r, next, levels.Value{})
				name = r.Name
				shared = rapid.Bool().Draw(t, "change point in one row")
			}
			here = next
		}
		b.errors, b.setups, b.sights, b.loops = append(b.errors, e), append(b.setups, setups), append(b.sights, total), append(b.loops, loop)
	}
	return b
}

// Both reductions against the levels that the readings were made from: every
// row, every set-up, every sum, every misclosure, in thousands of books.
func TestRandomBooks(t *testing.T) {
	rows, inverted, shared, side := 0, 0, 0, 0
	for round := range 20 {
		rapid.Check(t, func(t *rapid.T) {
			b := drawBook(t, true)
			n := rapid.Int64Range(1, 40).Draw(t, "limit")
			r := levels.Rule{Coef: unit.Length(n) * b.step, Per: levels.SqrtN, Text: "n"}
			ways := []levels.Distribution{levels.NoDistribution, levels.BySetups, levels.ByDistance}
			with := ways[round%3]
			res := levels.Reduce(b.rows, levels.Options{Rule: r, Distribute: with, SideShotsFS: b.side, Unit: unit.M})
			require.Empty(t, res.Mistakes)
			require.True(t, res.ArithmeticOK)
			require.Equal(t, res.Sums.BS-res.Sums.FS, res.Sums.Rise-res.Sums.Fall)
			require.Equal(t, res.Sums.BS-res.Sums.FS, res.FirstToLast.L)
			require.Len(t, res.Runs, len(b.errors))
			for i := range b.rows {
				in, out := &b.rows[i], &res.Rows[i]
				if !in.BS.Set && !in.IS.Set && !in.FS.Set {
					require.Equal(t, levels.NoReading, out.Role)
					require.Equal(t, -1, out.Run)
					continue
				}
				rows++
				require.Equal(t, levels.Of(b.level[i]), out.Level, "row %d", i)
				require.Equal(t, b.hpc[i], out.Collimation, "row %d", i)
				require.False(t, out.Rise.Set && out.Fall.Set)
				require.GreaterOrEqual(t, out.Rise.L+out.Fall.L, unit.Length(0))
				if in.IS.Set && in.IS.L < 0 {
					inverted++
				}
				if in.BS.Set && in.FS.Set && in.Known.Set {
					shared++
				}
				if in.FS.Set && out.Role == levels.Shot {
					side++
				}
			}
			for k := range res.Runs {
				b.checkRun(t, res, k, r, with)
			}
		})
	}
	for what, n := range map[string]int{"rows": rows, "inverted": inverted, "runs that share a row": shared, "side shots": side} {
		assert.Greater(t, n, 100, what)
	}
}

func (b *random) checkRun(t *rapid.T, res *levels.Result, k int, r levels.Rule, with levels.Distribution) {
	run := &res.Runs[k]
	require.Equal(t, levels.Of(-b.errors[k]), run.Misclosure, "a FS that reads too much gives a level that is too low")
	require.Equal(t, b.setups[k], run.Setups)
	require.Equal(t, levels.Of(b.sights[k]), run.Distance)
	require.Equal(t, run.Sums.BS-run.Sums.FS, run.FirstToLast.L)
	require.Equal(t, run.Sums.Rise-run.Sums.Fall, run.FirstToLast.L)
	w, c := big.NewInt(int64(b.errors[k])), big.NewInt(int64(r.Coef))
	c.Mul(c, c).Mul(c, big.NewInt(int64(run.Setups)))
	want := levels.OutOfLimit
	if w.Mul(w, w).Cmp(c) <= 0 {
		want = levels.Closed
		if b.loops[k] {
			want = levels.LoopClosed
		}
	}
	require.Equal(t, want, run.State)
	distributed := run.State.Proved() && with != levels.NoDistribution
	require.Equal(t, distributed, run.Distributed != levels.NoDistribution)
	// shares, from the readings again
	done, setup := unit.Length(0), 0
	for i := run.First; i <= run.Last; i++ {
		in, out := &b.rows[i], &res.Rows[i]
		if out.Run == k {
			require.Equal(t, distributed && out.Level.Set, out.Adjusted.Set)
		}
		if in.FS.Set && i > run.First {
			done += in.DistFS.L
		}
		if distributed && out.Run == k && out.Adjusted.Set {
			num, den := int64(setup), int64(run.Setups)
			if with == levels.ByDistance {
				den = int64(run.Distance.L)
				num = b.sightsThrough(run, setup)
			}
			share := new(big.Rat).Mul(big.NewRat(int64(b.errors[k]), 1), big.NewRat(num, den))
			if i == run.First {
				share.SetInt64(0)
			}
			got := new(big.Rat).SetInt64(int64(out.Adjusted.L - out.Level.L))
			require.LessOrEqual(t, new(big.Rat).Abs(got.Sub(got, share)).Cmp(big.NewRat(1, 2)), 0, "row %d: rounded once", i)
		}
		if in.BS.Set && i < run.Last {
			setup++
		}
	}
	if distributed {
		require.Equal(t, b.rows[run.Last].Known, res.Rows[run.Last].Adjusted, "the closing mark gets its known level")
	}
}

// sightsThrough adds the sights of the first set-ups of a run.
func (b *random) sightsThrough(run *levels.Run, setups int) int64 {
	var sum unit.Length
	n := 0
	for i := run.First; i <= run.Last; i++ {
		in := &b.rows[i]
		if in.FS.Set && i > run.First && n <= setups {
			sum += in.DistFS.L
		}
		if in.BS.Set && i < run.Last {
			if n++; n <= setups {
				sum += in.DistBS.L
			}
		}
	}
	return int64(sum)
}

// A book that lost a reading, or has one in the wrong column, never proves a
// wrong level: what is still proved is right to one count.
func TestDamagedBooksProveNothingWrong(t *testing.T) {
	silent, named, proved := 0, 0, 0
	for range 20 {
		rapid.Check(t, func(t *rapid.T) {
			b := drawBook(t, false)
			i := rapid.IntRange(0, len(b.rows)-1).Draw(t, "row")
			r := &b.rows[i]
			cells := []*levels.Value{&r.BS, &r.IS, &r.FS}
			from, to := rapid.IntRange(0, 2).Draw(t, "from"), rapid.IntRange(0, 3).Draw(t, "to")
			v := *cells[from]
			if !v.Set || to == from {
				return
			}
			*cells[from] = levels.Value{}
			if to < 3 {
				*cells[to] = v
			}
			res := levels.Reduce(b.rows, levels.Options{Rule: levels.Rule{Coef: 1, Text: "one count"}, SideShotsFS: b.side, Distribute: levels.BySetups})
			if len(res.Mistakes) > 0 {
				named++
				require.False(t, res.ArithmeticOK)
			} else {
				silent++
			}
			for j := range res.Rows {
				out := &res.Rows[j]
				if out.Run < 0 || !res.Runs[out.Run].State.Proved() || out.Role != levels.Shot {
					continue
				}
				proved++
				require.LessOrEqual(t, (out.Level.L - b.level[j]).Abs(), unit.Length(1), "row %d after the change of row %d", j, i)
			}
		})
	}
	assert.Greater(t, named, 100)
	assert.Greater(t, silent, 10, "an IS that is blanked is no mistake")
	assert.Greater(t, proved, 100)
}

// Rows that are turned round, end to end, have the same levels: a book levelled
// backwards closes with the opposite misclosure.
func TestBackwards(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBook(t, true)
		opt := levels.Options{SideShotsFS: b.side}
		res := levels.Reduce(b.rows, opt)
		// without the first known level the run is worked back from its end
		if b.loops[0] {
			return
		}
		rows := append([]levels.Row(nil), b.rows...)
		rows[0].Known = levels.Value{}
		back := levels.Reduce(rows, opt)
		run := &res.Runs[0]
		require.Equal(t, levels.Open, back.Runs[0].State)
		for i := run.First; i <= run.Last; i++ {
			if out := &res.Rows[i]; out.Run == 0 && out.Level.Set {
				require.Equal(t, out.Level.L+b.errors[0], back.Rows[i].Level.L, "row %d", i)
			}
		}
	})
}
