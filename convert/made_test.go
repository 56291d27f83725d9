package convert

import (
	"math/big"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats"
	"sightrail/formats/csvfile"
	"sightrail/formats/unit"
)

func pointsOf(t *testing.T, text string) *formats.Document {
	d, err := csvfile.Format.Decode(strings.NewReader("Point,Easting (m),Northing (m),Level (m),Code,Run,Chainage (m),Offset (m)\n"+text), "d.csv", formats.Options{Content: formats.PointContent})
	require.NoError(t, err)
	require.Empty(t, d.Problems)
	return d
}

// code takes the code of a point for the name of its line.
func code(name string) func(code, run string) string {
	return func(code, run string) string {
		if code == name {
			return "line " + run
		}
		return ""
	}
}

func texts(l []formats.Problem) string {
	var s []string
	for _, p := range l {
		s = append(s, p.String())
	}
	return strings.Join(s, "\n")
}

// Every contradiction in the points is told with its cell, and nothing is made.
func TestMadeSurfaceThatCannotBe(t *testing.T) {
	f := &Frame{Unit: unit.M}
	opt := MadeOptions{Break: code("B"), Bound: code("O")}
	for name, x := range map[string]struct{ points, want string }{
		"two levels": {"a,0,0,1,,,,\nb,10,0,1,,,,\nc,0,10,1,,,,\nd,10,0,1.5,,,,\n", "d.csv:3:4: surface s: b (d.csv:3:4) and d (d.csv:5:4) are at one place, 10.000 E, 0.000 N, with the levels 1.000 and 1.500; correct one of them or leave it out"},
		"lines that cross": {"a,0,0,1,B,1,,\nb,10,10,1,B,1,,\nc,0,10,2,B,2,,\nd,10,0,2,B,2,,\n",
			"d.csv:4:4: surface s: the breakline from c (d.csv:4:4) to d (d.csv:5:4) and the breakline from a (d.csv:2:4) to b (d.csv:3:4) cross at 5.000 E, 5.000 N with the levels 2.000 and 1.000; give them a common point there, or end one of them before"},
		"a boundary that crosses itself": {"a,0,0,1,O,,,\nb,10,10,1,O,,,\nc,10,0,1,O,,,\nd,0,10,1,O,,,\n", "give the corners of each ring in order around it"},
		"two points":                     {"a,0,0,1,,,,\nb,10,10,1,,,,\n", "no surface can be made of its 2 points: the points are all in one line, or fewer than three"},
	} {
		s, problems := NewMadeSurface("s", pointsOf(t, x.points), opt, unit.M, f)
		assert.Nil(t, s, name)
		assert.Contains(t, texts(problems), x.want, name)
	}
}

// Nothing that is left out is left out silently.
func TestMadeSurfaceTellsWhatIsLeftOut(t *testing.T) {
	f := &Frame{Unit: unit.M}
	text := "a,0,0,1,O,,,\nb,10,0,1,O,,,\nc,10,10,1,O,,,\nd,0,10,1,O,,,\ne,5,5,2,B,1,,\nf,8,5,2,B,1,,\nagain,5,5,2,,,,\nfar,30,5,1,,,,\nno level,3,3,,,,,\nv1,1,1,1,V,,,\nv2,2,1,1,V,,,\nv3,2,2,1,V,,,\n"
	s, problems := NewMadeSurface("s", pointsOf(t, text), MadeOptions{Break: code("B"), Bound: code("O"), Void: code("V")}, unit.M, f)
	require.Empty(t, problems)
	notes := texts(s.Notes)
	assert.Contains(t, notes, "d.csv:10:1: surface s: rows with no place or no level, which are no part of it: 1")
	assert.Contains(t, notes, "points at the place and level of another one, which count once: 1; the first is again (d.csv:8:4), as e (d.csv:6:4)")
	assert.Contains(t, notes, "points outside of it, which supply no level: 1; the first is far (d.csv:9:4)")
	at := func(e, n float64) (string, string, string) {
		z, from, why := s.At(&Shot{Placed: true, Place: Place{unit.Length(e * float64(unit.Metre)), unit.Length(n * float64(unit.Metre))}})
		return z.Exact(unit.M, 3), from, why
	}
	z, from, why := at(6.5, 5)
	assert.Equal(t, "2.000", z, "on the breakline")
	assert.Regexp(t, `^triangle [a-f], [a-f], [a-f] of s$`, from)
	assert.Empty(t, why)
	_, _, why = at(1.75, 1.25)
	assert.Equal(t, "outside the design surface s", why, "in the hole")

	s, problems = NewMadeSurface("s", pointsOf(t, "a,0,0,1,,,,\nb,10,0,1,,,,\nc,5,5,1,,,,\nd,5,1,1,,,,\n"), MadeOptions{MaxSide: 8 * unit.Metre}, unit.M, f)
	require.Empty(t, problems)
	assert.Contains(t, texts(s.Notes), "triangles along the edge with a side longer than 8 m, which are left out: 1, 5.0 m² in all")
}

// A surface of a file without faces is made of its points, breaklines and boundary.
func TestMadeFromASurfaceWithoutFaces(t *testing.T) {
	f := &Frame{Unit: unit.M}
	dec := func(s string) unit.Decimal {
		d, exact, err := unit.ParseDecimal(s)
		require.NoError(t, err)
		require.True(t, exact)
		return d
	}
	v := func(e, n, z string) formats.Vertex { return formats.Vertex{E: dec(e), N: dec(n), Z: dec(z)} }
	in := &formats.Surface{Name: "S", Vertices: []formats.Vertex{v("0", "0", "1"), v("10", "0", "1"), v("10", "10", "1"), v("0", "10", "1")},
		Breaklines: []formats.Breakline{{Name: "ridge", Levelled: true, Points: []formats.Vertex{v("2", "5", "2"), v("8", "5", "2")}}, {Name: "plan only", Points: []formats.Vertex{v("1", "1", "0"), v("2", "1", "0")}}},
		Boundaries: []formats.Boundary{{Name: "edge", Kind: "outer", Points: []formats.Vertex{v("1", "1", "0"), v("9", "1", "0"), v("9", "9", "0"), v("1", "9", "0")}}}}
	s, problems := NewMadeFrom(in, MadeOptions{}, unit.M, f)
	require.Empty(t, problems)
	assert.Contains(t, texts(s.Notes), "breakline plan only: its points have no levels, so it is not used")
	level := func(e, n unit.Length) (string, string) {
		z, _, why := s.At(&Shot{Placed: true, Place: Place{e * unit.Metre, n * unit.Metre}})
		return z.Exact(unit.M, 3), why
	}
	z, _ := level(5, 5)
	assert.Equal(t, "2.000", z)
	z, _ = level(1, 9)
	assert.NotEqual(t, "0.000", z, "the boundary is inside")
	_, why := level(0, 0)
	assert.Equal(t, "outside the boundary of the design surface S", why)

	in.Boundaries[0].Levelled = true
	for i := range in.Boundaries[0].Points {
		in.Boundaries[0].Points[i].Z = dec("1.2")
	}
	s, problems = NewMadeFrom(in, MadeOptions{}, unit.M, f)
	require.Empty(t, problems)
	z, _ = level(1, 1)
	assert.Equal(t, "1.200", z, "a boundary with levels supplies them")
	assert.Contains(t, texts(s.Notes), "points outside of it, which supply no level: 4")
	in.Boundaries[0].Points[0], in.Boundaries[0].Points[1] = in.Boundaries[0].Points[1], in.Boundaries[0].Points[0]
	_, problems = NewMadeFrom(in, MadeOptions{}, unit.M, f)
	assert.Contains(t, texts(problems), "point 1 of boundary edge")
}

// Levels of a surface made of points of one plane are those of the plane, worked out
// by fractions.
func TestMadeSurfaceOfAPlane(t *testing.T) {
	g := rand.New(rand.NewPCG(7, 7))
	var b strings.Builder
	for i := range 200 {
		e, n := g.IntN(100), g.IntN(100)
		z := new(big.Rat).SetFrac64(int64(10_000+3*e-7*n), 1000) // 10 + 0.003 e − 0.007 n
		b.WriteString("p" + unit.Decimal{Coef: int64(i)}.String() + "," + new(big.Rat).SetInt64(int64(e)).FloatString(0) + "," + new(big.Rat).SetInt64(int64(n)).FloatString(0) + "," + z.FloatString(3) + ",,,,\n")
	}
	s, problems := NewMadeSurface("s", pointsOf(t, b.String()), MadeOptions{}, unit.M, &Frame{Unit: unit.M})
	require.Empty(t, problems)
	found := 0
	for range 2000 {
		p := Place{unit.Length(g.Int64N(int64(100 * unit.Metre))), unit.Length(g.Int64N(int64(100 * unit.Metre)))}
		z, _, why := s.At(&Shot{Place: p, Placed: true})
		if why != "" {
			continue
		}
		found++
		want := new(big.Rat).SetFrac64(int64(10*unit.Metre), 1)
		want.Add(want, new(big.Rat).SetFrac64(3*int64(p.E)-7*int64(p.N), 1000))
		diff := want.Sub(want, new(big.Rat).SetInt64(int64(z)))
		assert.LessOrEqual(t, diff.Abs(diff).Cmp(big.NewRat(1, 2)), 0, "rounded once")
	}
	assert.Greater(t, found, 1500)
}

// A graded line and a table by chainage in every unit: a shot exactly on the design
// differs by nothing, in m, ft, ftUS and sixteenths of an inch.
func TestLinesAndTablesInEveryUnit(t *testing.T) {
	for _, u := range []unit.Unit{unit.M, unit.Ft, unit.FtUS, {Name: "1/16 in", Size: unit.In.Size / 16}} {
		f := &Frame{Unit: unit.M}
		l := func(n int64) unit.Length { return unit.Length(n) * u.Size }
		s, err := NewGradedLine("x", formats.Pos{}, LineNode{"A", Place{}, l(100)}, LineNode{"B", Place{E: l(300), N: l(400)}, l(95)}, l(2), f)
		require.NoError(t, err)
		for k := int64(0); k <= 5; k++ {
			z, _, why := s.At(&Shot{Placed: true, Place: Place{l(60 * k), l(80 * k)}})
			assert.Empty(t, why)
			assert.Equal(t, l(100-k), z, u.Name)
			z, _, why = s.At(&Shot{Chained: true, Chainage: l(100 * k), Offset: -l(2)})
			assert.Empty(t, why)
			assert.Equal(t, l(100-k), z, u.Name)
		}
		_, _, why := s.At(&Shot{Chained: true, Chainage: l(100), Offset: -l(2) - 1})
		assert.Contains(t, why, "beside the line from A to B", u.Name)
		text := "Chainage,Offset,Level\n0,1.5,10\n3,1.5,13\n"
		if u.Size == unit.In.Size/16 {
			continue // no file is written in sixteenths without feet
		}
		d, err := csvfile.Format.Decode(strings.NewReader(text), "t.csv", formats.Options{Content: formats.PointContent, Unit: u})
		require.NoError(t, err)
		s, problems := NewChainageTable("t", d, true, u, f)
		require.Empty(t, problems)
		z, _, why := s.At(&Shot{Chained: true, Chainage: l(1), Offset: l(3) / 2})
		assert.Empty(t, why)
		assert.Equal(t, l(11), z, u.Name)
	}
}

// A table by chainage says what it lacks, and what it has twice.
func TestTableByChainage(t *testing.T) {
	f := &Frame{Unit: unit.M}
	d := pointsOf(t, "a,,,1.0,,L,10,2\nb,,,1.2,,L,20,2\nc,,,1.3,,L,20,2\nd,,,1.3,,L,30,2\ne,,,9,,,10,0\nf,,,,,L,40,2\n")
	s, problems := NewChainageTable("t", d, true, unit.M, f)
	assert.Equal(t, "d.csv:4:4: level: L ch 20.000, 2.000 right has another design level here than at d.csv:3:4; a place has one", texts(problems))
	assert.Contains(t, texts(s.Notes), "rows with no chainage or no level, which are not used: 1")
	for _, x := range []struct {
		run     string
		at, off unit.Length
		want    string
	}{
		{"L", 10, 2, "1.000"}, {"M", 10, 0, "9.000"},
		{"L", 20, 2, "the level table t has two levels at L ch 20.000, 2.000 right"},
		{"L", 15, 2, "the level table t has two levels at a row next to L ch 15.000, 2.000 right"},
		{"L", 30, 2, "1.300"}, {"L", 31, 2, "L ch 31.000, 2.000 right is after the last row of this offset in the level table t, ch 30.000"},
		{"L", 15, -2, "the level table t has no rows with this offset (L ch 15.000, 2.000 left); between offsets nothing is assumed"},
	} {
		z, _, why := s.At(&Shot{Run: x.run, Chained: true, Chainage: x.at * unit.Metre, Offset: x.off * unit.Metre})
		if why == "" {
			why = z.Exact(unit.M, 3)
		}
		assert.Equal(t, x.want, why)
	}
	_, _, why := s.At(&Shot{Placed: true})
	assert.Equal(t, "it has no chainage, and the level table t is by chainage and offset", why)
	_, problems = NewChainageTable("t", pointsOf(t, "a,1,1,1,,,,\n"), false, unit.M, f)
	assert.Contains(t, texts(problems), "no row has a chainage and a level")
}

// An offset square to a plane is raised by √(1 + slope²): compared with 200 bits.
func TestRaisedIsExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rise, run := rapid.Int64Range(-1000, 1000).Draw(t, "rise"), rapid.Int64Range(1, 1000).Draw(t, "run")
		offset := unit.Length(rapid.Int64Range(-int64(unit.Metre), int64(unit.Metre)).Draw(t, "offset"))
		s, err := NewGradedLine("x", formats.Pos{}, LineNode{Place: Place{}}, LineNode{Place: Place{E: unit.Length(run) * unit.Millimetre}, Level: unit.Length(rise) * unit.Millimetre}, 0, &Frame{Unit: unit.M})
		if err != nil {
			t.Fatal(err)
		}
		got, why := s.Raised(&Shot{Placed: true}, offset)
		if why != "" {
			t.Fatal(why)
		}
		x := new(big.Float).SetPrec(200).SetInt64(rise*rise + run*run)
		x.Sqrt(x).Quo(x, new(big.Float).SetInt64(run)).Mul(x, new(big.Float).SetInt64(int64(offset)))
		x.Sub(x, new(big.Float).SetInt64(int64(got)))
		if diff, _ := x.Float64(); diff < -0.5 || diff > 0.5 {
			t.Fatalf("%v is off by %v counts", got, diff)
		}
	})
}
