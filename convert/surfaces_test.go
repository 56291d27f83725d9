package convert

import (
	"encoding/json"
	"math/big"
	"math/rand/v2"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/convert/surface"
	"sightrail/formats"
	"sightrail/formats/fixture"
	"sightrail/formats/landxml"
	"sightrail/formats/unit"
)

// designFile reads a real file of the folder of outside check values.
func designFile(t *testing.T, name string) *formats.Document {
	f, err := os.Open(fixture.Shared(t, "landxml", "files", name))
	require.NoError(t, err)
	defer f.Close()
	d, err := landxml.Format.Decode(f, name, formats.Options{})
	require.NoError(t, err)
	require.Empty(t, d.Problems)
	return d
}

func number(t testing.TB, s string) unit.Decimal {
	d, _, err := unit.ParseDecimal(s)
	require.NoError(t, err)
	return d
}

// The visible faces of real surfaces have the plan area that the file states
// for itself (area2DSurf) and that an independent reader added up; with the
// invisible faces of d02 and d03 they would not.
func TestRealSurfacesHaveTheirPlanArea(t *testing.T) {
	text, err := os.ReadFile(fixture.Shared(t, "landxml", "counts.json"))
	require.NoError(t, err)
	var all []struct {
		File     string
		Surfaces []struct {
			Name   string
			Area   float64 `json:"plan_area_visible"`
			Stated string  `json:"stated_area2DSurf"`
		}
	}
	require.NoError(t, json.Unmarshal(text, &all))
	files, surfaces := map[string]bool{"d02_tin_3330pts_161invisible_epsg3007.xml": true, "d03_three_surfaces_invisible.xml": true,
		"d05_terrain_20k_pts_iso8859_profile_ns.xml": true, "d10_county_road_11_usft.xml": true, "d11_subdivision_11_foot_pipes.xml": true}, 0
	for _, c := range all {
		if !files[c.File] {
			continue
		}
		d := designFile(t, c.File)
		u := d.Units.Linear
		require.Len(t, d.Surfaces, len(c.Surfaces))
		for i, want := range c.Surfaces {
			v := &d.Surfaces[i].Vertices[0]
			f := &Frame{Unit: u, E0: int64(v.E.Float()), N0: int64(v.N.Float())}
			s, err := NewSurface(&d.Surfaces[i], u, f)
			require.NoError(t, err, want.Name)
			square := u.Size.Metres() * u.Size.Metres()
			assert.InDelta(t, want.Area, s.TIN.PlanArea()/square, 0.0006, "%s %s", c.File, want.Name)
			if want.Stated != "" {
				assert.InEpsilon(t, number(t, want.Stated).Float(), s.TIN.PlanArea()/square, 2e-6)
			}
			// the thinnest face, 5 m by 0.4 nm, has an area by exact arithmetic
			assert.Zero(t, s.TIN.Flat, "%s %s", c.File, want.Name)
			assert.Empty(t, s.Notes)
			surfaces++
		}
	}
	assert.Equal(t, 10, surfaces)
}

// Levels on a real surface are those of a search through every visible face in
// rationals of the file's own decimals, to one count; what only an invisible
// face covers is outside.
func TestRealSurfaceLevels(t *testing.T) {
	d := designFile(t, "d02_tin_3330pts_161invisible_epsg3007.xml")
	file := &d.Surfaces[0]
	f := &Frame{Unit: unit.M, E0: 155_000, N0: 6_407_000}
	s, err := NewSurface(file, unit.M, f)
	require.NoError(t, err)
	g := rand.New(rand.NewPCG(2, 2))
	states := map[surface.State]int{}
	for i := range 250 {
		// places in millimetres, half of them on vertices, some in invisible faces
		v := file.Vertices[g.IntN(len(file.Vertices))]
		e, n := milli(v.E), milli(v.N)
		switch {
		case i%5 == 0:
			for {
				if k := g.IntN(len(file.Faces)); file.Faces[k].Invisible {
					e, n = middle(file, k)
					break
				}
			}
		case i%2 == 0:
			e.Coef += g.Int64N(20_000) - 10_000
			n.Coef += g.Int64N(20_000) - 10_000
		default:
			e, n = v.E, v.N
		}
		p, err := f.Place(e, n, unit.M)
		require.NoError(t, err)
		z, face, state, _ := s.TIN.Level(p.E, p.N)
		wantFace, want := search(file, e, n)
		states[state]++
		switch {
		case wantFace == 0:
			require.Equal(t, surface.Outside, state, "%s %s", e, n)
		case state == surface.Twice:
		default:
			// a coordinate with more than 12 decimals of a metre is itself rounded
			require.LessOrEqual(t, (want - z).Abs(), unit.Length(1), "%s %s", e, n)
			require.Contains(t, s.Face(face), "face "+big.NewInt(int64(wantFace)).String()+" of ")
		}
	}
	assert.Greater(t, states[surface.On], 100)
	assert.Greater(t, states[surface.Outside], 10)
	assert.Less(t, states[surface.Twice], 10)
}

// milli rounds a coordinate down to millimetres.
func milli(d unit.Decimal) unit.Decimal {
	for ; d.Places > 3; d.Places-- {
		d.Coef /= 10
	}
	for ; d.Places < 3; d.Places++ {
		d.Coef *= 10
	}
	return d
}

// middle is a place near the middle of a face, in millimetres.
func middle(s *formats.Surface, k int) (e, n unit.Decimal) {
	e.Places, n.Places = 3, 3
	for _, v := range s.Faces[k].V {
		e.Coef += milli(s.Vertices[v].E).Coef / 3
		n.Coef += milli(s.Vertices[v].N).Coef / 3
	}
	return e, n
}

func ratOf(d unit.Decimal) *big.Rat {
	r, _ := new(big.Rat).SetString(d.String())
	return r
}

// search finds the first visible face (from 1) that holds a place, and its
// level there in whole counts, half upwards.
func search(s *formats.Surface, e, n unit.Decimal) (int, unit.Length) {
	ef, nf := e.Float(), n.Float()
	for k, face := range s.Faces {
		if face.Invisible {
			continue
		}
		var c [3][3]*big.Rat
		out := [4]bool{true, true, true, true}
		for _, v := range face.V {
			p := &s.Vertices[v]
			x, y := p.E.Float(), p.N.Float()
			out[0], out[1] = out[0] && x < ef-1e-3, out[1] && x > ef+1e-3
			out[2], out[3] = out[2] && y < nf-1e-3, out[3] && y > nf+1e-3
		}
		if out[0] || out[1] || out[2] || out[3] {
			continue
		}
		for i, v := range face.V {
			p := &s.Vertices[v]
			c[i] = [3]*big.Rat{ratOf(p.E), ratOf(p.N), ratOf(p.Z)}
		}
		cross := func(a, b, p [3]*big.Rat) *big.Rat {
			d := func(x, y *big.Rat) *big.Rat { return new(big.Rat).Sub(x, y) }
			l := new(big.Rat).Mul(d(b[0], a[0]), d(p[1], a[1]))
			return l.Sub(l, new(big.Rat).Mul(d(b[1], a[1]), d(p[0], a[0])))
		}
		at := [3]*big.Rat{ratOf(e), ratOf(n), nil}
		area := cross(c[0], c[1], c[2])
		if area.Sign() == 0 {
			continue
		}
		sum, inside := new(big.Rat), true
		for i := range 3 {
			w := cross(c[(i+1)%3], c[(i+2)%3], at)
			w.Quo(w, area)
			inside = inside && w.Sign() >= 0
			sum.Add(sum, w.Mul(w, c[i][2]))
		}
		if inside {
			sum.Mul(sum, new(big.Rat).SetInt64(int64(unit.Metre))).Add(sum, big.NewRat(1, 2))
			return k + 1, unit.Length(new(big.Int).Div(sum.Num(), sum.Denom()).Int64())
		}
	}
	return 0, 0
}

func TestNewSurface(t *testing.T) {
	f := &Frame{Unit: unit.M, E0: 1000, N0: 2000}
	vertex := func(id int, e, n, z string) formats.Vertex {
		return formats.Vertex{E: number(t, e), N: number(t, n), Z: number(t, z), ID: id, Row: 10 + id}
	}
	square := func() *formats.Surface {
		return &formats.Surface{Name: "FG", Invisible: 1,
			Vertices: []formats.Vertex{vertex(2, "1000.000", "2000", "10.1"), vertex(5, "1010", "2000", "10.2"), vertex(7, "1010", "2010", "10.3"), vertex(9, "1000", "2010", "10.2")},
			Faces:    []formats.Face{{V: [3]int32{1, 2, 3}, Invisible: true}, {V: [3]int32{0, 1, 1}}, {V: [3]int32{0, 1, 3}}}}
	}
	s, err := NewSurface(square(), unit.M, f)
	require.NoError(t, err)
	z, face, state, _ := s.TIN.Level(2*unit.Metre, 3*unit.Metre)
	assert.Equal(t, surface.On, state)
	assert.Equal(t, "10.15", z.Exact(unit.M, 2))
	assert.Equal(t, "face 3 of FG", s.Face(face), "the file's numbers count invisible faces")
	_, _, state, _ = s.TIN.Level(9*unit.Metre, 9*unit.Metre)
	assert.Equal(t, surface.Outside, state, "an invisible face supplies no level")
	require.Len(t, s.Notes, 1)
	assert.Contains(t, s.Notes[0].String(), "surface FG: 1 of 2 visible faces have no plan area")

	for name, c := range map[string]struct {
		spoil func(*formats.Surface)
		want  string
	}{
		"a face beyond the points": {func(s *formats.Surface) { s.Faces[2].V[1] = 4 }, "face 3 names a point that is not there"},
		"a face before the points": {func(s *formats.Surface) { s.Faces[2].V[1] = -1 }, "face 3 names a point that is not there"},
		"nothing visible":          {func(s *formats.Surface) { s.Faces = s.Faces[:1] }, "no visible face: 4 points and 1 faces"},
		"points only":              {func(s *formats.Surface) { s.Faces, s.Invisible = nil, 0 }, "no visible face: 4 points and 0 faces"},
		"all vertical":             {func(s *formats.Surface) { s.Faces = s.Faces[:2] }, "no visible face with a plan area"},
		"another grid":             {func(s *formats.Surface) { s.Vertices[1].N = number(t, "5812000") }, "point 5 (line 15) is more than 1,171 km from the origin of the job (1000 E, 2000 N)"},
		"far beyond a length":      {func(s *formats.Surface) { s.Vertices[1].Z = number(t, "58120000000") }, "point 5 (line 15) is more than 1,171 km"},
	} {
		spoilt := square()
		c.spoil(spoilt)
		_, err := NewSurface(spoilt, unit.M, f)
		assert.ErrorContains(t, err, c.want, name)
	}
}
