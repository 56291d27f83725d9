package qa

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/convert"
	"sightrail/formats/unit"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// The index finds the lot that trying every lot in turn finds.
func TestLotIndexAgainstEveryLot(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.Int64Range(-20, 20)
		length := func(name string) unit.Length { return unit.Length(c.Draw(t, name)) * unit.Metre }
		run := rapid.SampledFrom([]string{"", "A", "A1", "B", "C"})
		lots := make([]Lot, rapid.IntRange(0, 30).Draw(t, "lots"))
		for i := range lots {
			l := &lots[i]
			l.Name = fmt.Sprint(i)
			if rapid.IntRange(0, 9).Draw(t, "cannot") == 0 {
				l.Cannot = "no"
			}
			if rapid.Bool().Draw(t, "by run") {
				l.Runs = []string{rapid.SampledFrom([]string{"A", "A*", "B", "C*"}).Draw(t, "runs")}
			}
			switch rapid.IntRange(0, 2).Draw(t, "kind") {
			case 0:
				from := length("from")
				l.Chainage = &job.Chainage{From: job.Length{Length: from}, To: job.Length{Length: from + unit.Length(rapid.Int64Range(0, 9).Draw(t, "long"))*unit.Metre}}
			case 1:
				e, n, w := length("e"), length("n"), unit.Length(rapid.Int64Range(1, 15).Draw(t, "wide"))*unit.Metre
				o, err := convert.NewOutline([][]convert.Place{{{E: e, N: n}, {E: e + w, N: n}, {E: e, N: n + w}}})
				require.NoError(t, err)
				l.Outline = o
			}
		}
		index := newLotIndex(lots)
		for range 12 {
			s := convert.Shot{Run: run.Draw(t, "run"), Placed: rapid.Bool().Draw(t, "placed"), Chained: rapid.Bool().Draw(t, "chained"),
				Place: convert.Place{E: length("E"), N: length("N")}, Chainage: length("chainage")}
			want := -1
			for i := range lots {
				if lots[i].Holds(&s) {
					want = i
					break
				}
			}
			if got := index.first(&s); got != want {
				t.Fatalf("%+v: lot %d, all tried %d", s, got, want)
			}
		}
	})
}

// Five hundred lots, side by side, and shots all over them.
func BenchmarkLotIndex(b *testing.B) {
	var lots []Lot
	for i := range 500 {
		e, n := unit.Length(i%25)*10*unit.Metre, unit.Length(i/25)*10*unit.Metre
		o, err := convert.NewOutline([][]convert.Place{{{E: e, N: n}, {E: e + 10*unit.Metre, N: n}, {E: e + 10*unit.Metre, N: n + 10*unit.Metre}, {E: e, N: n + 10*unit.Metre}}})
		require.NoError(b, err)
		lots = append(lots, Lot{Name: fmt.Sprint(i), Outline: o})
	}
	index := newLotIndex(lots)
	s := convert.Shot{Placed: true}
	i := unit.Length(0)
	for b.Loop() {
		i++
		s.Place = convert.Place{E: i * 37 % 250 * unit.Metre, N: i * 11 % 200 * unit.Metre}
		index.first(&s)
	}
}

// A rule about values one after the other decides nothing when there are more than
// can be put in order; a count of fails does not need the order, but is not what
// was asked.
func TestTooManyValuesToOrder(t *testing.T) {
	one, ten := 1, 10
	r := &Run{ordered: MaxOrdered - 1}
	r.Head.Job = &job.Job{}
	r.Head.Checks = []CheckResult{{Common: job.Common{Name: "c"}}}
	r.acceptors = []*acceptor{{run: r, plan: &job.Plan{Plan: "at most", Bad: &one, In: &ten, Consecutive: true}, byLot: map[[2]int]*gathered{}}}
	row := Row{Compared: true, Verdict: limits.Pass}
	r.gather(&row)
	r.gather(&row)
	r.accept()
	require.Len(t, r.Head.Checks[0].Acceptance, 1)
	require.Equal(t, NotDecided, r.Head.Checks[0].Acceptance[0].State)
	require.Contains(t, r.Head.Checks[0].Acceptance[0].Words, "more than 2000000 values to be put in order along the line")
	require.Equal(t, VerdictIncomplete, r.Head.Checks[0].Verdict())
}
