package qa_test

import (
	"crypto/sha256"
	"encoding/csv"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/qa"
	"sightrail/qa/checks"
	"sightrail/qa/job"
)

// Text reads a file as it is.
func (f files) Text(name string, most int64) ([]byte, qa.Input, error) {
	if int64(len(f[name])) > most {
		return nil, qa.Input{}, fmt.Errorf("%s is too long", name)
	}
	return []byte(f[name]), qa.Input{File: name, SHA256: fmt.Sprintf("%x", sha256.Sum256([]byte(f[name])))}, nil
}

// days runs a job of a flat pad at 10 m, with limits of 10 mm, and surveys by day.
func days(t require.TestingT, more string, register string, surveys map[string]string) (*qa.Result, string) {
	text := "project: P\nunits: m\ngrid: local site\nheightDatum: D\nnonconformance: {spacing: 10 m, source: s}\n" + more +
		"designs:\n  - {name: s, plane: {easting: 0 m, northing: 0 m, level: 10 m}}\n" +
		"checks:\n  - surface: {name: c, element: pad, design: s, tolerance: {lower: -10 mm, upper: 10 mm, source: t}}\nsurveys:\n"
	f := files{}
	list := []string{}
	for d := range surveys {
		list = append(list, d)
	}
	slices.Sort(list)
	for i, d := range list {
		text += fmt.Sprintf("  - {file: %s.csv, kind: points, date: %s, round: %d}\n", d, d, i+1)
		f[d+".csv"] = "Point,Easting (m),Northing (m),Level (m),Code\n" + surveys[d]
	}
	if register != "" {
		text += "register: register.csv\n"
		f["register.csv"] = register
	}
	j, err := job.Load("job.yaml", []byte(text), checks.Kinds())
	require.NoError(t, err)
	r, err := qa.Prepare(j, checks.All, f, "test")
	require.NoError(t, err)
	res, err := r.Each(func([]qa.Row) error { return nil })
	require.NoError(t, err)
	require.True(t, res.Account.Balances(), "%+v", res.Account)
	require.NotNil(t, res.Register)
	return res, string(res.Register.CSV())
}

const rework = "rework: {within: 0.5 m, source: s}\n"

func entry(t *testing.T, res *qa.Result, number string) *qa.Entry {
	for _, e := range res.Register.Entries {
		if e.Text(qa.ColNumber) == number {
			return e
		}
	}
	require.Fail(t, "no entry", number)
	return nil
}

// Neighbours exactly at the spacing are one patch, one count further they are two;
// high and low never join.
func TestPatchesAtTheSpacing(t *testing.T) {
	for name, x := range map[string]struct {
		points string
		want   []string // points of each patch
	}{
		"at the spacing":    {"a,0,0,10.011,\nb,10,0,10.011,\n", []string{"2 high"}},
		"aslant at it":      {"a,0,0,10.011,\nb,6,8,10.011,\n", []string{"2 high"}},
		"a nanometre more":  {"a,0,0,10.011,\nb,10.000000001,0,10.011,\n", []string{"1 high", "1 high"}},
		"aslant beyond":     {"a,0,0,10.011,\nb,6,8.000000001,10.011,\n", []string{"1 high", "1 high"}},
		"through a third":   {"a,0,0,10.011,\nc,20,0,10.011,\nb,10,0,10.011,\n", []string{"3 high"}},
		"high and low":      {"a,0,0,10.011,\nb,1,0,9.989,\nc,2,0,10.012,\n", []string{"2 high", "1 low"}},
		"a pass is no part": {"a,0,0,10.011,\nb,1,0,10.010,\nc,2,0,10.012,\n", []string{"2 high"}},
	} {
		t.Run(name, func(t *testing.T) {
			res, _ := days(t, "", "", map[string]string{"2026-03-04": x.points})
			var got []string
			for _, p := range res.Register.Patches {
				got = append(got, fmt.Sprintf("%d %s", p.Points, p.Side()))
			}
			assert.Equal(t, x.want, got)
		})
	}
}

// A square of 10 m that is 20 mm high at its corners but one, where it is 40: the
// volume under the triangles lies between those of the two diagonals.
func TestPatchFigures(t *testing.T) {
	res, _ := days(t, "", "", map[string]string{"2026-03-04": "a,0,0,10.020,\nb,9,0,10.020,\nc,9,9,10.040,\nd,0,9,10.020,\n"})
	require.Len(t, res.Register.Patches, 1)
	p := res.Register.Patches[0]
	e := entry(t, res, "NC-001")
	assert.Equal(t, "12.7 m by 9.0 m", e.Text(qa.ColExtent))
	assert.Equal(t, "81.0", e.Text(qa.ColArea))
	assert.Equal(t, "+25", e.Text(qa.ColMean))
	assert.Equal(t, "cut 25 on average, 40 at the worst shot", e.Text(qa.ColAction))
	assert.Equal(t, "c: +40 mm", e.Text(qa.ColWorst))
	assert.Equal(t, "2026-03-04.csv:4:4", e.Text(qa.ColWorstAt))
	// one triangle of 40.5 m² has corners 20, 20, 20 or the two share the high corner
	one, two := 40.5*0.020+40.5*(0.020+0.020+0.040)/3, 2*40.5*(0.020+0.020+0.040)/3
	assert.True(t, math.Abs(p.Volume-one) < 1e-12 || math.Abs(p.Volume-two) < 1e-12, p.Volume)
	assert.Equal(t, "2026-03-04: 0.000 0.000, 9.000 0.000, 9.000 9.000, 0.000 9.000", e.Text(qa.ColOutline))
	for _, c := range []qa.Column{qa.ColDisposition, qa.ColDecidedBy, qa.ColDecidedOn, qa.ColReason} {
		assert.Empty(t, e.Text(c), "left to the authority")
	}
	res, _ = days(t, "", "", map[string]string{"2026-03-04": "a,0,0,10.020,\nb,5,0,10.030,\n"})
	assert.Empty(t, res.Register.Patches[0].VolumeBy, "a line has no volume")
	assert.Equal(t, "5.0 m long, in a line", entry(t, res, "NC-001").Text(qa.ColExtent))
	// two shots at one place with two levels: no triangles
	res, _ = days(t, "", "", map[string]string{"2026-03-04": "a,0,0,10.020,\nb,5,0,10.030,\nc,0,4,10.030,\nd,0,4,10.040,\n"})
	p = res.Register.Patches[0]
	assert.InDelta(t, 10*0.030, p.Volume, 1e-12)
	assert.Contains(t, p.VolumeBy, "area × mean")
}

// Three neighbours fail; the rework leaves one of them out of tolerance; the next
// round passes, and the entry is closed. The old results stay.
func TestReworkRounds(t *testing.T) {
	surveys := map[string]string{"2026-03-04": "a,0,0,10.020,\nb,5,0,10.022,\nc,5,5,10.020,\nd,50,50,10,\n"}
	res, first := days(t, rework, "", surveys)
	assert.Equal(t, "no newer shot", entry(t, res, "NC-001").Text(qa.ColStanding))
	assert.Equal(t, qa.VerdictFail, res.Verdict)

	surveys["2026-03-05"] = "a2,0.3,0.4,10.004,\nb2,5,0,10.015,\nc2,5,5,10,\n"
	res, second := days(t, rework, first, surveys)
	e := entry(t, res, "NC-001")
	assert.Equal(t, qa.StatusOpen, e.Text(qa.ColStatus))
	assert.Equal(t, "fails again: 1 shot of 2026-03-05 out of tolerance, the worst b2 by +5 mm beyond its limit", e.Text(qa.ColStanding))
	assert.Equal(t, 3, res.Account.Superseded)
	assert.Equal(t, qa.Counts{Assessed: 4, Pass: 3, Fail: 1}, res.Checks[0].Counts)
	require.Len(t, res.Rounds, 3)
	assert.Equal(t, "fail +22", res.Rounds[1].Old.Result)
	assert.Equal(t, "fail +15", res.Rounds[1].New.Result)
	assert.Equal(t, "superseded", res.Rows[0].Shot.Use.String())
	assert.Equal(t, "its own result was fail +20; superseded by a2 of 2026-03-05 (2026-03-05.csv:2:4): pass +4", res.Rows[0].Reason)
	assert.Equal(t, "a of 2026-03-04: fail +20", res.Rows[4].Trace.Supersedes)
	assert.Equal(t, "NC-001", res.Rows[0].Trace.Number)
	assert.Equal(t, "NC-001", res.Rows[5].Trace.Number)
	assert.Len(t, res.Register.Entries, 1)

	surveys["2026-03-06"] = "b3,5,0,10.010,\n"
	res, third := days(t, rework, second, surveys)
	e = entry(t, res, "NC-001")
	assert.Equal(t, qa.StatusClosed, e.Text(qa.ColStatus))
	assert.Equal(t, "2026-03-06", e.Text(qa.ColClosedOn))
	assert.Equal(t, qa.VerdictPass, res.Verdict)
	assert.Zero(t, res.ExitCode())

	_, again := days(t, rework, third, surveys)
	assert.Equal(t, third, again, "its own output gives the same bytes")
	_, at1 := days(t, rework, "", surveys)
	assert.Equal(t, third, at1, "all rounds at once come to the same")
}

// The hole that re-shots may leave: exactly the spacing closes, more does not.
func TestClosingRule(t *testing.T) {
	first := map[string]string{"2026-03-04": "a,0,0,10.020,\nb,8,0,10.020,\nc,8,8,10.020,\nd,0,8,10.020,\n"}
	_, register := days(t, "", "", first)
	for name, x := range map[string]struct {
		points, status, standing string
	}{
		"none":              {"x,100,100,10,\n", qa.StatusOpen, "no newer shot"},
		"one in the middle": {"x,4,4,10,\n", qa.StatusClosed, "closed: 1 newer shot until 2026-03-05, all within tolerance; no place of it is further than 5.66 m from one"},
		"at the limit":      {"x,8,2,10,\n", qa.StatusClosed, "closed: 1 newer shot until 2026-03-05, all within tolerance; no place of it is further than 10.00 m from one"},
		"a nanometre more":  {"x,8,1.999999999,10,\n", qa.StatusOpen, "the newer shots leave a hole: just over 10 m from the next of them at 0.0 E, 8.0 N, where 10 m is allowed"},
		"one fails":         {"x,4,4,10,\ny,5,5,9.989,\n", qa.StatusClosed, ""},
		"one fails again":   {"x,4,4,10,\ny,5,5,10.011,\n", qa.StatusOpen, "fails again: 1 shot of 2026-03-05 out of tolerance, the worst y by +1 mm beyond its limit"},
	} {
		t.Run(name, func(t *testing.T) {
			res, _ := days(t, "", register, map[string]string{"2026-03-05": x.points})
			e := entry(t, res, "NC-001")
			assert.Equal(t, x.status, e.Text(qa.ColStatus))
			if x.standing != "" {
				assert.Equal(t, x.standing, e.Text(qa.ColStanding))
			}
			assert.Equal(t, "4", e.Text(qa.ColPoints), "the first description stays")
		})
	}
	// a low shot is a nonconformance of its own
	res, _ := days(t, "", register, map[string]string{"2026-03-05": "x,4,4,10,\ny,5,5,9.989,\n"})
	assert.Equal(t, "low", entry(t, res, "NC-002").Text(qa.ColSide))
}

// What has failed stays open until newer shots take its place, also where other
// newer shots cover it.
func TestOldFailuresHoldAnEntryOpen(t *testing.T) {
	surveys := map[string]string{"2026-03-04": "a,0,0,10.020,\nb,5,0,10.020,\n", "2026-03-05": "x,2,0,10,\n"}
	res, _ := days(t, rework, "", surveys)
	assert.Equal(t, "no newer shot", entry(t, res, "NC-001").Text(qa.ColStanding))
	surveys["2026-03-06"] = "y,0,0.5,10,\n"
	res, _ = days(t, rework, "", surveys)
	assert.Equal(t, "no newer shot takes the place of 1 of its 2 shots", entry(t, res, "NC-001").Text(qa.ColStanding))
	surveys["2026-03-07"] = "z,5,0.5,10,\n"
	res, _ = days(t, rework, "", surveys)
	assert.Equal(t, qa.StatusClosed, entry(t, res, "NC-001").Text(qa.ColStatus))
}

// What fails after its entry was closed is a new one.
func TestFailsAfterItWasClosed(t *testing.T) {
	surveys := map[string]string{"2026-03-04": "a,0,0,10.020,\n", "2026-03-05": "a,0,0,10,\n", "2026-03-06": "a,0,0,10.030,\n"}
	res, register := days(t, rework, "", surveys)
	assert.Equal(t, "2026-03-05", entry(t, res, "NC-001").Text(qa.ColClosedOn))
	assert.Equal(t, qa.StatusOpen, entry(t, res, "NC-002").Text(qa.ColStatus))
	_, again := days(t, rework, register, surveys)
	assert.Equal(t, register, again)
	assert.Equal(t, "NC-001", res.Rows[0].Trace.Number)
	assert.Equal(t, "NC-002", res.Rows[2].Trace.Number)
}

// Nothing of the old register is lost: columns of the user, decisions, entries of
// checks that the job has not, entries written by hand.
func TestRegisterIsCarriedOn(t *testing.T) {
	surveys := map[string]string{"2026-03-04": "a,0,0,10.020,\nb,5,0,10.022,\n"}
	_, register := days(t, "", "", surveys)
	lines, err := csv.NewReader(strings.NewReader(register)).ReadAll()
	require.NoError(t, err)
	at := func(c qa.Column) int { return slices.Index(qa.Columns, c) }
	lines[0] = append(lines[0], "gang", "cost")
	lines[1] = append(lines[1], "=night shift", "-12.50")
	lines[1][at(qa.ColDisposition)], lines[1][at(qa.ColDecidedBy)] = "rework", "A. Patel"
	other := slices.Clone(lines[1])
	other[at(qa.ColNumber)], other[at(qa.ColCheck)] = "NC-017", "another check"
	hand := make([]string, len(other))
	hand[at(qa.ColNumber)], hand[at(qa.ColStatus)], hand[at(qa.ColCheck)], hand[at(qa.ColSide)], hand[at(qa.ColLies)] = "H1", "open", "c", "low", "in plan"
	lines = append(lines, other, hand)
	var b strings.Builder
	require.NoError(t, csv.NewWriter(&b).WriteAll(lines))
	res, out := days(t, "", b.String(), surveys)
	got, err := csv.NewReader(strings.NewReader(out)).ReadAll()
	require.NoError(t, err)
	require.Len(t, got, 4)
	assert.Equal(t, "gang", got[0][len(got[0])-2])
	assert.Equal(t, []string{"'=night shift", "-12.50"}, got[1][len(got[1])-2:], "inert, and otherwise as it was")
	assert.Equal(t, "A. Patel", got[1][at(qa.ColDecidedBy)])
	lines[2][len(lines[2])-2] = "'=night shift"
	assert.Equal(t, lines[2], got[2])
	assert.Equal(t, "H1", got[3][0])
	assert.Equal(t, "it has no outline, so that no shot can be said to cover it", entry(t, res, "H1").Text(qa.ColStanding))
	_, again := days(t, "", out, surveys)
	assert.Equal(t, out, again)

	// the next number is after the highest, and a closed entry gives none up
	res, _ = days(t, "", out, map[string]string{"2026-03-04": surveys["2026-03-04"] + "q,100,100,10.030,\n"})
	assert.NotNil(t, entry(t, res, "NC-018"))
}

// Shots of any order make the same patches as trying all pairs.
func TestPatchesAgainstAllPairs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 40).Draw(t, "n")
		type shot struct{ e, n, z int }
		list := make([]shot, n)
		for i := range list {
			list[i] = shot{rapid.IntRange(-30, 30).Draw(t, "e"), rapid.IntRange(-30, 30).Draw(t, "n"), rapid.IntRange(-15, 15).Draw(t, "z")}
		}
		root := make([]int, n)
		for i := range root {
			root[i] = i
		}
		sign := func(z int) int {
			return map[bool]int{true: 1}[z > 10] - map[bool]int{true: 1}[z < -10]
		}
		for range list { // until nothing changes
			for i, a := range list {
				for k, b := range list {
					if s := sign(a.z); s != 0 && s == sign(b.z) && (a.e-b.e)*(a.e-b.e)+(a.n-b.n)*(a.n-b.n) <= 100 {
						root[i] = min(root[i], root[k])
					}
				}
			}
		}
		groups := map[int]int{}
		for i, a := range list {
			if sign(a.z) != 0 {
				groups[root[i]]++
			}
		}
		var want []int
		for _, k := range groups {
			want = append(want, k)
		}
		slices.Sort(want)
		write := func(order []int) string {
			var b strings.Builder
			for _, i := range order {
				fmt.Fprintf(&b, "p%d,%d,%d,%.3f,\n", i, list[i].e, list[i].n, 10+float64(list[i].z)/1000)
			}
			return b.String()
		}
		order := make([]int, n)
		for i := range order {
			order[i] = i
		}
		res, register := days(t, "", "", map[string]string{"2026-03-04": write(order)})
		var got []int
		for _, p := range res.Register.Patches {
			got = append(got, p.Points)
		}
		slices.Sort(got)
		assert.Equal(t, want, got)
		assert.Len(t, res.Register.Entries, len(got), "each has a number of its own")
		other, _ := days(t, "", "", map[string]string{"2026-03-04": write(rapid.Permutation(order).Draw(t, "order"))})
		for i, e := range res.Register.Entries {
			for _, c := range qa.Columns {
				if c != qa.ColWorstAt { // the cell moves with the order
					assert.Equal(t, e.Text(c), other.Register.Entries[i].Text(c), c)
				}
			}
		}
		_, again := days(t, "", register, map[string]string{"2026-03-04": write(order)})
		assert.Equal(t, register, again)
	})
}

// A register that was made by any rounds, fed in again, comes out with the same
// bytes; fed round by round its numbers stay.
func TestRegisterIsAFixedPoint(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		surveys, more := map[string]string{}, rapid.SampledFrom([]string{"", rework, "rework: {byName: true, source: s}\n"}).Draw(t, "rule")
		register, numbers := "", []string{}
		for day := range rapid.IntRange(1, 4).Draw(t, "days") {
			var b strings.Builder
			for i := range rapid.IntRange(1, 12).Draw(t, "n") {
				fmt.Fprintf(&b, "p%d,%d,%d,%.3f,\n", rapid.IntRange(0, 12).Draw(t, "name")*100+i%2, rapid.IntRange(0, 40).Draw(t, "e"), rapid.IntRange(0, 40).Draw(t, "n"),
					10+float64(rapid.IntRange(-20, 20).Draw(t, "z"))/1000)
			}
			surveys[fmt.Sprintf("2026-03-%02d", day+1)] = b.String()
			var res *qa.Result
			res, register = days(t, more, register, surveys)
			for i, n := range numbers {
				require.Equal(t, n, res.Register.Entries[i].Text(qa.ColNumber))
			}
			numbers = numbers[:0]
			for _, e := range res.Register.Entries {
				numbers = append(numbers, e.Text(qa.ColNumber))
			}
			_, again := days(t, more, register, surveys)
			require.Equal(t, register, again)
		}
		_, once := days(t, more, "", surveys)
		_, twice := days(t, more, once, surveys)
		require.Equal(t, once, twice)
	})
}
