package checks

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/convert"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// What may have been staffed is named where the difference is a size of the pipe,
// and the verdict stays.
func TestWrongStaffingIsNamed(t *testing.T) {
	z := sizes{bore: mm(300), wall: mm(40), collar: mm(25), bedding: mm(100)}
	for _, x := range []struct {
		staffed string
		diff    int64
		floor   job.Staffed
		note    string
	}{
		{"invert", 300, job.OnSoffit, "differs by the bore, 300 mm: was the soffit staffed?"},
		{"invert", 308, job.OnSoffit, "differs by the bore, 300 mm: was the soffit staffed?"},
		{"invert", 340, job.OnTop, "differs by the bore and the wall, 340 mm: was the top staffed?"},
		{"invert", 365, job.OnCollar, "differs by the bore, the wall and the collar, 365 mm: was the collar staffed?"},
		{"invert", -40, job.OnBedding, "differs by the wall, 40 mm: was the bedding staffed?"},
		{"invert", -140, job.OnTrenchFloor, "differs by the bedding and the wall, 140 mm: was the trench bottom staffed?"},
		{"soffit", -300, job.OnInvert, "differs by the bore, 300 mm: was the invert staffed?"},
		{"top", -340, job.OnInvert, "differs by the bore and the wall, 340 mm: was the invert staffed?"},
		{"soffit", 40, job.OnTop, "differs by the wall, 40 mm: was the top staffed?"},
		{"bedding", 380, job.OnTop, "differs by the wall, the bore and the wall, 380 mm: was the top staffed?"},
		{"invert", 9, "", ""}, {"invert", 200, "", ""}, {"invert", -300, "", ""}, {"surface", 300, "", ""},
	} {
		floor, note := z.suspect(x.staffed, mm(x.diff), mm(10))
		assert.Equal(t, x.note, note, "%s %d", x.staffed, x.diff)
		assert.Equal(t, floorOf(string(x.floor)), floor)
	}
	_, note := z.suspect("invert", mm(351), mm(15))
	assert.Equal(t, "differs by the bore and the wall, 340 mm: was the top staffed? Or the collar (the bore, the wall and the collar, 365 mm)?", note)
	_, note = (&sizes{bore: mm(300)}).suspect("invert", mm(340), mm(50))
	assert.Equal(t, "differs by the bore, 300 mm: was the soffit staffed?", note, "what is not known is no explanation")
	assert.Equal(t, mm(12), staffWindow(mm(-12), mm(10), 3, true))
	assert.Equal(t, mm(20), staffWindow(mm(-12), mm(10), 10, true))

	n := straightDrain(unit.Millimetre, [2]int64{1300, 1000})
	p := &PipeParams{Common: job.Common{Design: "n"}, Tolerance: pipeLimits("-10 mm", "10 mm")}
	shots := []convert.Shot{pipeShot(unit.Millimetre, "P1", 0, 1600, 0), pipeShot(unit.Millimetre, "P1", 1500, 1455, 0), pipeShot(unit.Millimetre, "P1", 3000, 1000, 0)}
	own, _, m := measurePipes(t, Pipe, p, n, unit.M, shots, 2)
	assert.Equal(t, []limits.Verdict{limits.Fail, limits.Fail, limits.Pass}, []limits.Verdict{own[0].Verdict, own[1].Verdict, own[2].Verdict})
	assert.Equal(t, "differs by the bore, 300 mm: was the soffit staffed?", own[1].Note)
	assert.Empty(t, own[2].Note)
	_, remarks := m.Finish()
	assert.Contains(t, remarks[0], "Pipe P1: 2 of 3 shots differ as if the soffit had been staffed (the first of them differs by the bore, 300 mm: was the soffit staffed?)")
}

// Every window over the base is there: from a shot to the first one far enough
// downstream, to a shot from the last one far enough upstream, and no other; the two
// ends stand in the grade. And no batch size changes a row.
func TestFallsAndSagsAgainstEveryPair(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var shots []convert.Shot
		for range rapid.IntRange(1, 25).Draw(t, "shots") {
			shots = append(shots, pipeShot(unit.Millimetre, "P1", rapid.Int64Range(0, 3000).Draw(t, "along"), rapid.Int64Range(900, 1400).Draw(t, "level"), 0))
		}
		for i := range shots {
			shots[i].ID = fmt.Sprint("s", i)
		}
		g := &job.Grade{Grade: unit.Grade{Rise: 1, Run: 100}}
		p := &PipeParams{Common: job.Common{Design: "n"}, Tolerance: pipeLimits("-1000 mm", "1000 mm"), LeastGrade: g, Base: &job.Length{Length: mm(700)},
			Sag: &SagLimits{BelowDesign: &SizeLimit{limits.Size{HasFixed: true, Fixed: mm(20)}}, BelowLine: &SizeLimit{limits.Size{HasFixed: true, Fixed: mm(20)}}, Ponded: &SizeLimit{limits.Size{HasFixed: true, Fixed: mm(20)}}, Source: "test"}}
		n := straightDrain(unit.Millimetre, [2]int64{1300, 1000})
		own, rows, _ := measurePipes(t, Pipe, p, n, unit.M, shots, 100)
		for _, batch := range []int{1, 7} {
			own2, rows2, _ := measurePipes(t, Pipe, p, n, unit.M, shots, batch)
			require.Equal(t, own, own2)
			require.Equal(t, rows, rows2)
		}
		sorted := slices.Clone(shots)
		slices.SortStableFunc(sorted, func(a, b convert.Shot) int { return cmp.Compare(a.Place.N, b.Place.N) })
		far := func(a, b int) bool { return a < b && sorted[b].Place.N-sorted[a].Place.N >= mm(700) }
		endToEnd := sorted[0].Place.N <= mm(500) && sorted[len(sorted)-1].Place.N >= mm(2500)
		var want []string
		for b := range sorted {
			for a := range b {
				first := far(a, b) && !far(a, b-1)
				last := far(a, b) && !far(a+1, b)
				if (first || last) && !(endToEnd && a == 0 && b == len(sorted)-1) {
					want = append(want, sorted[a].ID+" "+sorted[b].ID)
				}
			}
		}
		var got []string
		for _, r := range rowsOf(rows, qa.QuantityFall) {
			var from, to string
			_, err := fmt.Sscanf(strings.ReplaceAll(r.Reason, ",", " "), "from %s to %s", &from, &to)
			require.NoError(t, err)
			got = append(got, from+" "+to)
		}
		slices.Sort(want)
		slices.Sort(got)
		require.Equal(t, want, got)
		// the deepest water by every pair
		var ponded unit.Length
		between := false
		for a := range sorted {
			between = between || sorted[a].Place.N > mm(500) && sorted[a].Place.N < mm(2500)
			for b := a; b < len(sorted); b++ {
				ponded = max(ponded, sorted[b].Level-sorted[a].Level)
			}
		}
		sags := rowsOf(rows, qa.QuantitySag)
		require.Len(t, sags, 3)
		if !between {
			assert.Equal(t, limits.NotAssessed, sags[2].Verdict)
			assert.Contains(t, sags[2].Reason, "a sag between them cannot be seen")
			return
		}
		assert.Equal(t, -ponded, sags[2].Diff)
		assert.Equal(t, ponded > mm(20), sags[2].Verdict == limits.Fail)
		assert.Equal(t, endToEnd, sags[1].Verdict != limits.NotAssessed)
	})
}

// A level off the line between two others is worth what repetition says, with what
// the three share taken out. JCGM 100:2008, 5.2; no published example.
func TestUncertaintyOffTheLine(t *testing.T) {
	const times = 20_000
	w := &convert.Worth{Own: 1, Shared: 5, Slope: &convert.Slope{Along: 0.05}}
	at := func(along float64) *onPipe {
		return &onPipe{along: unit.Length(along) * unit.Metre, shot: convert.Shot{Worth: convert.Worthy{Of: w, At: [2]float32{float32(along), 0}}}}
	}
	us, o, ds := at(0), at(20), at(80)
	rnd := rand.New(rand.NewPCG(3, 5))
	var sum float64
	for range times {
		shared, slope := 5*rnd.NormFloat64(), 0.05*rnd.NormFloat64()
		level := func(along float64) float64 { return shared + slope*along + rnd.NormFloat64() }
		a, x, b := level(0), level(20), level(80)
		d := x - (a + (b-a)*20/80)
		sum += d * d
	}
	u, ok := offLine(us, o, ds)
	require.True(t, ok)
	assert.InEpsilon(t, math.Sqrt(sum/times), u, 0.02)
	assert.InDelta(t, math.Sqrt(1+9.0/16+1.0/16), u, 1e-9, "what is shared drops out")
	_, ok = offLine(us, &onPipe{along: unit.Metre}, ds)
	assert.False(t, ok)
}

// Ends that fit when they are exchanged are named as such, and stay failures.
func TestExchangedEnds(t *testing.T) {
	n := straightDrain(unit.Millimetre, [2]int64{1300, 1000})
	p := &PipeParams{Common: job.Common{Design: "n"}, Tolerance: pipeLimits("-10 mm", "10 mm")}
	for _, x := range []struct {
		us, ds int64
		want   bool
	}{{1004, 1296, true}, {1300, 1000, false}, {1000, 1000, false}, {1011, 1300, false}} {
		own, _, m := measurePipes(t, Pipe, p, n, unit.M, []convert.Shot{pipeShot(unit.Millimetre, "P1", 0, x.us, 0), pipeShot(unit.Millimetre, "P1", 3000, x.ds, 0)}, 2)
		_, remarks := m.Finish()
		assert.Equal(t, x.want, strings.Contains(strings.Join(remarks, " "), "Pipe P1: the two ends fit the design when they are exchanged"), "%d %d", x.us, x.ds)
		if x.want {
			assert.Equal(t, limits.Fail, own[0].Verdict)
		}
	}
}

func TestSizesOfPipes(t *testing.T) {
	n := straightDrain(unit.Millimetre, [2]int64{1300, 1000}, [2]int64{1000, 700})
	n.Pipes[1].Bore, n.Pipes[1].Wall = 0, 0
	l := func(v int64) *job.Length { return &job.Length{Length: mm(v)} }
	all, err := sizesOf(n, []PipeSize{{Nominal: &Nominal{IsBore: true}}, {Pipes: []string{"P2"}, Bore: l(600), Wall: l(50), Bedding: l(150)}, {Pipes: []string{"P*"}, Collar: l(20)}})
	require.NoError(t, err)
	assert.Equal(t, []sizes{{nominal: mm(300), bore: mm(300), wall: mm(40), collar: mm(20)}, {nominal: mm(600), bore: mm(600), wall: mm(50), collar: mm(20), bedding: mm(150)}}, all)
	for _, x := range []struct {
		list []PipeSize
		want string
	}{
		{[]PipeSize{{Pipes: []string{"P1"}, Bore: l(375)}}, `pipe P1: the bore is 300 mm in the design and 375 mm in entry 1 of "sizes"`},
		{[]PipeSize{{Pipes: []string{"P2"}, Bore: l(375)}, {Bore: l(300)}}, `pipe P2: the bore is 375 mm in entry 1 of "sizes" and 300 mm in entry 2`},
		{[]PipeSize{{Pipes: []string{"Q*", "R"}, Wall: l(10)}}, `entry 1 of "sizes": the network "N" has no pipe "Q*" or "R"`},
		{[]PipeSize{{Nominal: &Nominal{IsBore: true}}, {Pipes: []string{"P1"}, Nominal: &Nominal{Length: mm(450)}}}, "its nominal size is the bore in one entry"},
	} {
		_, err := sizesOf(n, x.list)
		assert.ErrorContains(t, err, x.want)
	}
	tol, err := shareTolerance("-5 % of DN", "5 % of bore").in(&convert.Frame{Unit: unit.M})
	require.NoError(t, err)
	got, why := all[1].tolerance(tol)
	assert.Empty(t, why)
	assert.Equal(t, []unit.Length{-mm(30), mm(30)}, []unit.Length{got.Lower, got.Upper})
	_, why = (&sizes{}).tolerance(tol)
	assert.Contains(t, why, "the DN of this pipe is not known")
	_, why = (&sizes{nominal: mm(1), bore: mm(1)}).tolerance(limits.SizeTolerance{Lower: limits.Size{Fixed: mm(5), HasFixed: true}, HasLower: true, Upper: limits.Size{Percent: dec("1"), Of: "bore"}, HasUpper: true})
	assert.Contains(t, why, "lies above the upper limit")
}

// shareTolerance is a tolerance by its texts.
func shareTolerance(lower, upper string) *SizeTolerance {
	out := pipeLimits(lower, upper)
	return &out
}

// More shots than are kept: nothing is worked out of them, and the check says so.
func TestTooManyShotsOnPipes(t *testing.T) {
	n := straightDrain(unit.Millimetre, [2]int64{1300, 1000})
	for _, x := range []struct {
		kind   *qa.Check
		params any
	}{
		{Pipe, &PipeParams{Common: job.Common{Design: "n"}, Tolerance: pipeLimits("-10 mm", "10 mm")}},
		{Cover, &CoverParams{Common: job.Common{Design: "n"}, Ground: CoverGround{Codes: []string{"G"}}}},
	} {
		m, err := x.kind.Start(x.params, &qa.Setting{Design: &convert.Design{Networks: map[string]*convert.Network{"n": n}}, Frame: &convert.Frame{Unit: unit.M}})
		require.NoError(t, err)
		shots := []convert.Shot{pipeShot(unit.Millimetre, "P1", 0, 1300, 0), pipeShot(unit.Millimetre, "P1", 1500, 1150, 0), pipeShot(unit.Millimetre, "P1", 3000, 1000, 0)}
		rows := make([]qa.Row, 3)
		for i := range rows {
			rows[i].Shot = shots[i]
		}
		switch m := m.(type) {
		case *pipeMeasurer:
			m.most = 2
		case *coverMeasurer:
			m.most = 2
		}
		m.Batch(shots, rows)
		derived, remarks := m.Finish()
		require.Len(t, derived, 1)
		assert.Equal(t, limits.NotAssessed, derived[0].Verdict)
		assert.Contains(t, derived[0].Reason, "the check has 3 shots on pipes, and keeps 2 at most")
		assert.Len(t, remarks, 1)
	}
}
