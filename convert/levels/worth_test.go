package levels_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/convert/levels"
	"sightrail/formats/unit"
)

func mm(x float64) unit.Length { return unit.Length(math.Round(x * float64(unit.Millimetre))) }

func known(name string, level float64, bs, is, fs *float64) levels.Row {
	r := row(name, bs, is, fs)
	r.Known, r.KnownFrom = levels.Of(mm(level*1000)), "job"
	return r
}

func row(name string, bs, is, fs *float64) levels.Row {
	r := levels.Row{Name: name}
	for _, x := range []struct {
		from *float64
		to   *levels.Value
	}{{bs, &r.BS}, {is, &r.IS}, {fs, &r.FS}} {
		if x.from != nil {
			*x.to = levels.Of(mm(*x.from * 1000))
		}
	}
	return r
}

// Two side shots of one set-up share the collimation: with 1 mm of a reading and
// 3 mm of a set-up they differ by √2 mm, not by √20 (JCGM 100:2008, 5.2,
// correlated quantities: what is common drops out).
func TestTwoShotsOfOneSetup(t *testing.T) {
	x := 1.5
	rows := []levels.Row{known("BM", 10, &x, nil, nil), row("P", nil, &x, nil), row("Q", nil, &x, nil), known("BM", 10, nil, nil, &x)}
	w, err := levels.Reduce(rows, levels.Options{}).Worth(levels.Uncertainty{Reading: 1, Setup: 3}, false)
	require.NoError(t, err)
	assert.InDelta(t, math.Sqrt(2), w.Difference(w, 1, 2), 1e-12)
	assert.InDelta(t, math.Sqrt(10), math.Sqrt(w.Variance(1)), 1e-12)
	assert.InDelta(t, 9, w.Covariance(w, 1, 2), 1e-12)
	assert.Zero(t, w.Variance(0), "the mark itself")
}

func TestWorthRefuses(t *testing.T) {
	res := levels.Reduce(nil, levels.Options{})
	for _, u := range []levels.Uncertainty{{}, {Reading: -1}, {Reading: 1, PerKm: 2}, {PerKm: math.NaN()}} {
		_, err := res.Worth(u, false)
		assert.Error(t, err, "%+v", u)
	}
	x := 1.5
	w, err := levels.Reduce([]levels.Row{known("BM", 10, &x, nil, nil), row("P", nil, &x, nil)}, levels.Options{}).Worth(levels.Uncertainty{PerKm: 2}, false)
	require.NoError(t, err)
	why, ok := w.Known(1)
	assert.False(t, ok)
	assert.Equal(t, "set-up 1 of the run has no distance of a sight", why)
}

// field is a book with the errors it is observed with.
type field struct {
	rows  []levels.Row
	opt   levels.Options
	u     levels.Uncertainty
	marks []string
}

// observe returns the book as one day gives it: every mark, set-up and reading
// with an error of its own, drawn as the rule of Uncertainty says.
func (f *field) observe(rnd *rand.Rand) []levels.Row {
	rows := append([]levels.Row(nil), f.rows...)
	off := map[string]unit.Length{}
	for _, m := range f.marks {
		off[m] = mm(rnd.NormFloat64() * f.u.Marks[m])
	}
	sd := func(d levels.Value) float64 {
		if f.u.PerKm > 0 {
			return f.u.PerKm * math.Sqrt2 * math.Sqrt(d.L.Metres()/1000)
		}
		return f.u.Reading
	}
	for i := range rows {
		r := &rows[i]
		if r.Known.Set {
			r.Known.L += off[r.Name]
		}
		if r.BS.Set {
			u := sd(r.DistBS)
			switch {
			case f.u.PerKm > 0:
				u = math.Hypot(u, f.u.Setup)
			case f.u.Setup > 0:
				u = f.u.Setup
			}
			r.BS.L += mm(rnd.NormFloat64() * u)
		}
		if r.IS.Set {
			r.IS.L += mm(rnd.NormFloat64() * sd(r.DistIS))
		}
		if r.FS.Set {
			r.FS.L += mm(rnd.NormFloat64() * sd(r.DistFS))
		}
	}
	return rows
}

// drawField makes a book of two runs over three marks, the second from the mark
// that the first ends on, with shots in every set-up.
func drawField(rnd *rand.Rand, n int) *field {
	f := &field{marks: []string{"A", "B", "C"}}
	f.u = levels.Uncertainty{Reading: 1, Setup: 3, Marks: map[string]float64{"A": 2, "B": 1.5, "C": 0.5}}
	if n%2 == 1 {
		f.u.Reading, f.u.Setup, f.u.PerKm = 0, 0.4, 2.5
	}
	if n == 4 {
		f.u.Setup = 0
	}
	if n%3 > 0 {
		f.opt.Rule, _ = levels.ParseRule("900 mm")
		f.opt.Distribute = []levels.Distribution{"", levels.BySetups, levels.ByDistance}[n%3]
	}
	here := 20.0
	add := func(r levels.Row) { f.rows = append(f.rows, r) }
	d := func() levels.Value { return levels.Of(unit.Length(10+rnd.IntN(50)) * unit.Metre) }
	name, mark := "A", true
	for run := range 2 {
		setups := 1 + rnd.IntN(4)
		for s := range setups {
			bs := 1 + rnd.Float64()
			first := row(name, &bs, nil, nil)
			if mark {
				first = known(name, here, &bs, nil, nil)
			}
			if len(f.rows) > 0 && rnd.IntN(2) == 0 { // change point in one row
				f.rows[len(f.rows)-1].BS, f.rows[len(f.rows)-1].DistBS = first.BS, d()
			} else {
				first.DistBS = d()
				add(first)
			}
			for range 1 + rnd.IntN(2) {
				is := rnd.Float64() * 3
				x := row(fmt.Sprint("P", len(f.rows)), nil, &is, nil)
				x.DistIS = d()
				add(x)
			}
			fs := 1 + rnd.Float64()
			here += bs - fs
			name, mark = fmt.Sprint("T", len(f.rows)), false
			last := row(name, nil, nil, &fs)
			if s == setups-1 {
				name, mark = f.marks[run+1], true
				last = known(name, here, nil, nil, &fs)
			}
			last.DistFS = d()
			add(last)
		}
	}
	return f
}

// What a level, and every difference, is said to be worth against 10,000
// repetitions of the same field work through the same reduction: raw and
// adjusted, marks and set-ups shared. The formulas have no published example;
// the rule is that of JCGM 100:2008, 5.1 and 5.2.
func TestWorthAgainstRepetition(t *testing.T) {
	const times = 10_000
	rnd := rand.New(rand.NewPCG(26, 3))
	compared := 0
	for n := range 6 {
		f := drawField(rnd, n)
		adjusted := n%3 > 0
		res := levels.Reduce(f.rows, f.opt)
		require.Len(t, res.Runs, 2)
		w, err := res.Worth(f.u, adjusted)
		require.NoError(t, err)
		level := func(r *levels.Reduced) float64 {
			if adjusted {
				return r.Adjusted.L.Millimetres()
			}
			return r.Level.L.Millimetres()
		}
		rows := len(f.rows)
		at := make([][]float64, rows) // row → time → error
		for range times {
			got := levels.Reduce(f.observe(rnd), f.opt)
			for i := range rows {
				at[i] = append(at[i], level(&got.Rows[i])-level(&res.Rows[i]))
			}
		}
		for a := range rows {
			_, ok := w.Known(a)
			require.True(t, ok, a)
			for b := range a + 1 {
				stated := math.Sqrt(w.Variance(a))
				sum := 0.0
				for k := range times {
					x := at[a][k]
					if b < a {
						x -= at[b][k]
					}
					sum += x * x
				}
				if b < a {
					stated = w.Difference(w, a, b)
				}
				if stated < 1e-9 {
					assert.Less(t, sum, 1e-6, "book %d rows %d %d", n, a, b)
					continue
				}
				assert.InEpsilon(t, stated, math.Sqrt(sum/times), 0.03, "book %d rows %d %d", n, a, b)
				compared++
			}
		}
	}
	require.Greater(t, compared, 300)
}
