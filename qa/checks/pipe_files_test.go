package checks_test

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/convert"
	"sightrail/formats"
	"sightrail/formats/all"
	"sightrail/formats/fixture"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/checks"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// runBook runs a test book.
func runBook(t *testing.T, name string) *qa.Result {
	dir := filepath.Join("testdata", "books", name)
	text, err := os.ReadFile(filepath.Join(dir, "job.yaml"))
	require.NoError(t, err)
	j, err := job.Load("job.yaml", text, checks.Kinds())
	require.NoError(t, err)
	run, err := qa.Prepare(j, checks.All, folder(dir), "test")
	require.NoError(t, err)
	res, err := run.Each(func([]qa.Row) error { return nil })
	require.NoError(t, err)
	return res
}

// The figures of the example on the page of the check stand in its test book.
func TestExampleOfPipe(t *testing.T) {
	res := runBook(t, "pipe")
	got := map[string]string{}
	for _, f := range res.Checks[0].Figures {
		got[f.Name] = f.Print + " " + f.Unit
	}
	assert.Equal(t, map[string]string{"sag below design": "66 mm", "sag below line between built ends": "62 mm", "ponded depth": "7 mm", "highest above line between built ends": "0 mm"}, got)
}

// Ground shots are control: they are no result themselves, and the account balances.
func TestGroundShotsAreControl(t *testing.T) {
	res := runBook(t, "cover-shots")
	require.True(t, res.Account.Balances())
	assert.Equal(t, 3, res.Account.Control, "ground that no check judges")
	assert.Equal(t, 3, res.Account.Assessed, "inverts, control of one check and judged by the other")
	assert.Equal(t, 2, res.Account.NotAssessed)
	cover := res.Checks[1].Counts
	assert.Equal(t, qa.Counts{Assessed: 5, Pass: 2, Fail: 3, NotAssessed: 3}, cover)
}

// What two levels share drops out of a derived difference: 3 mm each, 4 mm shared. A
// length in plan has nothing of a level, and what is not lowered or raised has no
// such action beside it.
func TestWorthOfDerivedRows(t *testing.T) {
	want := map[qa.Quantity]float64{qa.QuantityInvert: 5, qa.QuantityBackfall: 3 * math.Sqrt2, qa.QuantityStep: 3 * math.Sqrt2, qa.QuantityDrop: 3 * math.Sqrt2}
	seen := map[qa.Quantity]bool{}
	for _, r := range runBook(t, "pipe-worth").Rows {
		if u, ok := want[r.Quantity]; ok {
			assert.True(t, r.HasU)
			assert.InDelta(t, u, r.U, 1e-9, "%s %s", r.Quantity, r.Shot.ID)
		}
		switch {
		case r.Quantity == qa.QuantityLine:
			assert.False(t, r.HasU)
			assert.Empty(t, r.Action)
		case r.Quantity == qa.QuantityInvertLine && r.Shot.ID == "1":
			assert.InDelta(t, 3*math.Sqrt(1.5), r.U, 1e-9, "midway between the ends")
			assert.Equal(t, "lower 5", r.Action)
		case r.Quantity == qa.QuantityStep:
			assert.Equal(t, limits.Fail, r.Verdict)
			assert.Empty(t, r.Action)
		}
		seen[r.Quantity] = true
	}
	assert.Len(t, seen, 6)
}

// Networks of real files: shots made from the design lie on it, and a design lifted
// by a known amount shows that amount at every shot. What the files hold is not
// ours; that every invert comes back through the check is.
func TestRealNetworksOnThemselves(t *testing.T) {
	for _, x := range []struct {
		file  string
		pipes int // that can be judged
	}{{"d08_storm_pipes_circ.xml", 6}, {"d11_subdivision_11_foot_pipes.xml", 5}} {
		path := fixture.Shared(t, "landxml", "files", x.file)
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		format, err := all.Find(x.file, text)
		require.NoError(t, err)
		f, err := os.Open(path)
		require.NoError(t, err)
		d, err := format.Decode(f, x.file, formats.Options{})
		require.NoError(t, err)
		require.NoError(t, f.Close())
		require.NotEmpty(t, d.Networks)
		judged := 0
		for k := range d.Networks {
			frame := originOf(&d.Networks[k], d.Units.Linear)
			n, _ := convert.NewNetwork(&d.Networks[k], d.Units, convert.NetworkOptions{InvertsAt: "centre"}, frame)
			for _, lift := range []unit.Length{0, 25 * unit.Millimetre, -unit.Inch} {
				judged += onItself(t, n, frame, lift)
			}
		}
		require.Equal(t, x.pipes*5*3, judged, "%s: five shots on every pipe, three times", x.file)
	}
}

// originOf puts the frame near the first pit.
func originOf(n *formats.Network, u unit.Unit) *convert.Frame {
	f := &convert.Frame{Unit: u}
	for i := range n.Structures {
		if s := &n.Structures[i]; s.Placed {
			f.E0, f.N0 = int64(s.E.Float()), int64(s.N.Float())
			break
		}
	}
	return f
}

// onItself makes shots at the ends and between of every pipe, lifts them, and
// compares what the check finds.
func onItself(t *testing.T, n *convert.Network, frame *convert.Frame, lift unit.Length) int {
	set := &qa.Setting{Design: &convert.Design{Networks: map[string]*convert.Network{"n": n}}, Frame: frame}
	size := func(l unit.Length) *checks.SizeLimit {
		return &checks.SizeLimit{Size: limits.Size{Fixed: l.Abs(), HasFixed: true, Below: l < 0}}
	}
	tol := checks.SizeTolerance{Lower: size(-unit.Metre), Upper: size(unit.Metre), Source: "test"}
	p := &checks.PipeParams{Common: job.Common{Design: "n"}, Tolerance: tol, Drop: &tol, InvertLine: &tol, LeastGrade: &job.Grade{Grade: unit.Grade{Rise: 0, Run: 1}}}
	m, err := checks.Pipe.Start(p, set)
	require.NoError(t, err)
	var shots []convert.Shot
	names := map[string]int{}
	for i := range n.Pipes {
		names[n.Pipes[i].Name]++
	}
	for i := range n.Pipes {
		pipe := &n.Pipes[i]
		if pipe.Bad != "" || names[pipe.Name] > 1 {
			continue
		}
		for k := range unit.Length(5) {
			along := unit.MulDiv(pipe.Length, k, 4)
			shots = append(shots, convert.Shot{ID: fmt.Sprint(pipe.Name, "-", k), Run: pipe.Name, Staffed: "invert", Place: n.PlaceOn(i, along), Placed: true,
				Level: pipe.InvertAt(along) + lift, Levelled: true, Use: convert.Assessed, Pos: formats.Pos{File: "x", Row: len(shots) + 2}})
		}
	}
	rows := make([]qa.Row, len(shots))
	m.Batch(shots, rows)
	for i := range rows {
		require.Equal(t, limits.Pass, rows[i].Verdict, "%s: %s", shots[i].ID, rows[i].Reason)
		// a place off the line by half a count moves the distance along by as much
		require.LessOrEqual(t, (rows[i].Diff - lift).Abs(), unit.Length(2), shots[i].ID)
	}
	derived, _ := m.Finish()
	for i := range derived {
		r := &derived[i]
		switch {
		case r.Pipe != "" && r.Verdict == limits.NotAssessed:
			require.True(t, badPipe(n, r.Pipe) || r.Quantity == qa.QuantityInvertLine, "%s %s: %s", r.Quantity, r.Pipe, r.Reason)
		case r.Quantity == qa.QuantityDrop:
			require.Zero(t, r.Diff, "%s: the lift drops out", r.Reason)
		case r.Quantity == qa.QuantityInvertLine:
			require.LessOrEqual(t, r.Diff.Abs(), unit.Length(4), r.Reason)
		default:
			require.Equal(t, limits.Pass, r.Verdict, "%s %s: %s", r.Quantity, r.Pipe, r.Reason)
		}
	}
	return len(rows)
}

func badPipe(n *convert.Network, name string) bool {
	for i := range n.Pipes {
		if n.Pipes[i].Name == name && n.Pipes[i].Bad != "" {
			return true
		}
	}
	return false
}
