package align_test

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/convert/align"
	"sightrail/formats/fixture"
	"sightrail/formats/unit"
)

// example is a published vertical curve of testdata/worked/levelling; its README
// tells the keys. Grades are in percent.
type example struct {
	Unit, Within, Remark string
	Source               struct{ Work, Place, Grade, Answers string }
	VerticalCurve        struct {
		PVI, PVILevel, Start, StartLevel, EndLevel string
		GradeIn, GradeOut                          string
		Length, LengthIn, LengthOut                string
		At                                         []string
		Underside, UndersideAt                     string
	}
	Want struct {
		Levels, Grades []string
		High, Low      struct{ Chainage, Level string }
		Clearance      string
	}
	Misprints []struct{ At, Printed, Used string }
	unit      unit.Unit
}

func readJSON(t *testing.T, into any, elem ...string) {
	text, err := os.ReadFile(filepath.Join(append([]string{fixture.Root(t)}, elem...)...))
	require.NoError(t, err)
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	require.NoError(t, d.Decode(into))
}

func inUnit(t *testing.T, s string, u unit.Unit) unit.Length {
	l, exact, err := unit.Parse(s, u)
	require.NoError(t, err)
	require.True(t, exact, s)
	return l
}

func (x *example) length(t *testing.T, s string) unit.Length { return inUnit(t, s, x.unit) }

// profile builds the profile of the example: the curve and nothing but.
func (x *example) profile(t *testing.T) (p *align.Profile, start, end unit.Length) {
	c := &x.VerticalCurve
	pvi := align.PVI{Curve: align.Parabola}
	if c.LengthIn != "" {
		pvi.Curve, pvi.In, pvi.Out = align.Unsymmetric, x.length(t, c.LengthIn), x.length(t, c.LengthOut)
	} else {
		pvi.Length = x.length(t, c.Length)
		pvi.In, pvi.Out = pvi.Length/2, pvi.Length/2
	}
	in, out := pvi.In, pvi.Out
	rise := func(grade string, run unit.Length) unit.Length {
		g, err := unit.ParseGrade(grade + " %")
		require.NoError(t, err)
		return g.Over(run)
	}
	if c.PVI != "" {
		pvi.Chainage, pvi.Level = x.length(t, c.PVI), x.length(t, c.PVILevel)
	} else {
		pvi.Chainage = x.length(t, c.Start) + in
		pvi.Level = x.length(t, c.StartLevel) + rise(c.GradeIn, in)
	}
	first, last := align.PVI{Chainage: pvi.Chainage - in}, align.PVI{Chainage: pvi.Chainage + out}
	if c.GradeIn != "" {
		first.Level, last.Level = pvi.Level-rise(c.GradeIn, in), pvi.Level+rise(c.GradeOut, out)
	} else {
		first.Level, last.Level = x.length(t, c.StartLevel), x.length(t, c.EndLevel)
	}
	p, flaws := align.NewProfile([]align.PVI{first, pvi, last}, align.ProfileOptions{In: x.unit})
	require.Empty(t, flaws)
	start, end, ok := p.Curve(1)
	require.True(t, ok)
	require.Equal(t, first.Chainage, start)
	require.Equal(t, last.Chainage, end)
	return p, start, end
}

// The published vertical curves against the answers of their sources, which each
// file names.
func TestPublishedVerticalCurves(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(fixture.Root(t), "testdata", "worked", "levelling", "vertical-*.json"))
	require.NoError(t, err)
	worth := map[string][]string{}
	for _, file := range files {
		name := strings.TrimSuffix(filepath.Base(file), ".json")
		t.Run(name, func(t *testing.T) {
			x := &example{}
			readJSON(t, x, "testdata", "worked", "levelling", name+".json")
			var ok bool
			x.unit, ok = unit.ByName(x.Unit)
			require.True(t, ok)
			within := x.length(t, x.Within)
			p, start, end := x.profile(t)
			require.NotEmpty(t, x.Want.Levels)
			require.Len(t, x.Want.Levels, len(x.VerticalCurve.At))
			for i, at := range x.VerticalCurve.At {
				z, err := p.Level(x.length(t, at))
				require.NoError(t, err)
				assert.LessOrEqual(t, (z - x.length(t, x.Want.Levels[i])).Abs(), within, "level at %s: %s", at, z.Exact(x.unit, 4))
			}
			for i, want := range x.Want.Grades {
				back, ahead, err := p.Grade(x.length(t, x.VerticalCurve.At[i]))
				require.NoError(t, err)
				assert.Equal(t, back, ahead)
				g, err := strconv.ParseFloat(want, 64)
				require.NoError(t, err)
				assert.InDelta(t, g, 100*ahead, 1e-12)
			}
			high, low, err := p.Extremes(start, end)
			require.NoError(t, err)
			for _, e := range []struct {
				want struct{ Chainage, Level string }
				got  align.Turning
			}{{x.Want.High, high}, {x.Want.Low, low}} {
				if e.want.Chainage == "" {
					continue
				}
				assert.LessOrEqual(t, (e.got.From - x.length(t, e.want.Chainage)).Abs(), max(within, x.unit.Size/200), "place of the extreme: %s", e.got.From.Exact(x.unit, 4))
				assert.LessOrEqual(t, (e.got.Level - x.length(t, e.want.Level)).Abs(), within, "level of the extreme: %s", e.got.Level.Exact(x.unit, 4))
			}
			if x.Want.Clearance != "" {
				z, err := p.Level(x.length(t, x.VerticalCurve.UndersideAt))
				require.NoError(t, err)
				assert.LessOrEqual(t, (x.length(t, x.VerticalCurve.Underside) - z - x.length(t, x.Want.Clearance)).Abs(), within)
			}
			for _, m := range x.Misprints {
				i, err := strconv.Atoi(strings.TrimPrefix(m.At, "want.levels."))
				require.NoError(t, err)
				assert.Equal(t, m.Used, x.Want.Levels[i])
				z, err := p.Level(x.length(t, x.VerticalCurve.At[i]))
				require.NoError(t, err)
				assert.Greater(t, (z - x.length(t, m.Printed)).Abs(), within, "the printed value is beyond the tolerance, so it is a misprint")
			}
			switch s := x.Source; {
			case (s.Grade == "A" || s.Grade == "B") && s.Answers == "printed":
				worth["outside agreement"] = append(worth["outside agreement"], name)
			default:
				worth["does not count"] = append(worth["does not count"], name)
			}
		})
	}
	assert.Equal(t, map[string][]string{
		"outside agreement": {"vertical-crest-500-mahun", "vertical-crest-600-from-ends"},
		"does not count":    {"vertical-crest-500-full-stations", "vertical-crest-520", "vertical-sag-under-bridge", "vertical-unsymmetric-40-60"},
	}, worth)
}

// numbers are all the numbers of a JSON value, those in text too.
func numbers(v any) (out []float64) {
	switch x := v.(type) {
	case float64:
		return []float64{x}
	case string:
		if f, err := strconv.ParseFloat(x, 64); err == nil {
			return []float64{f}
		}
	case []any:
		for _, e := range x {
			out = append(out, numbers(e)...)
		}
	case map[string]any:
		for _, e := range x {
			out = append(out, numbers(e)...)
		}
	}
	return out
}

// The transcriptions against the collection of check values they were made from,
// where that is at hand: every number of the one is a number of the other.
func TestTranscription(t *testing.T) {
	load := func(path string) (v map[string]any) {
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		require.NoError(t, json.Unmarshal(text, &v), path)
		return v
	}
	check := func(ours, theirs map[string]any, key, name string) {
		want := append(numbers(theirs["inputs"]), numbers(theirs["expected"])...)
		got := append(numbers(ours[key]), numbers(ours["want"])...)
		assert.ElementsMatch(t, want, got, name)
	}
	for name, source := range map[string]string{"vertical-sag-under-bridge": "vc-bridge-clearance-1393", "vertical-crest-520": "vc-crest-520-pvt-misprint",
		"vertical-crest-500-full-stations": "vc-forum-crest-500", "vertical-crest-500-mahun": "vc-mahun-p2-crest",
		"vertical-crest-600-from-ends": "vc-mahun-p4-crest-from-ends", "vertical-unsymmetric-40-60": "vc-unsymmetrical-40-60"} {
		theirs := load(fixture.Shared(t, "published", "levelling", source+".json"))
		ours := load(filepath.Join(fixture.Root(t), "testdata", "worked", "levelling", name+".json"))
		check(ours, theirs, "verticalCurve", name)
		place, source := ours["source"].(map[string]any), theirs["source"].(map[string]any)
		assert.Equal(t, source["grade"], place["grade"], name)
		assert.Equal(t, source["answers"], place["answers"], name)
		assert.Equal(t, theirs["tolerance"], numbers(ours["within"])[0], name)
		var printed []float64
		for _, m := range theirs["corrections"].([]any) {
			printed = append(printed, numbers(m.(map[string]any)["printed"])...)
		}
		misprints, _ := ours["misprints"].([]any)
		for i, m := range misprints {
			assert.Equal(t, printed[i], numbers(m.(map[string]any)["printed"])[0], name)
		}
		assert.Len(t, misprints, len(printed), name)
	}
}

// The reference points of clothoids, which the files name the source of: agreement
// to 1e-9 m.
func TestPublishedClothoids(t *testing.T) {
	for _, name := range []string{"ifc-clothoid-inf-to-300", "ifc-clothoid-1000-to-300"} {
		x := readQuality(t, name, "clothoid_points", "as_printed")
		s, xs, ys := x.list("inputs", "s"), x.list("want", "x"), x.list("want", "y")
		require.Len(t, s, 11)
		require.Zero(t, x.number("inputs", "direction0"))
		within := x.number("within", "x")
		require.Equal(t, 1e-9, within)
		// x east, y north: a positive radius turns left, one of 0 is none
		at := func(i int) align.Place { return place(xs[i], ys[i]) }
		radius := func(key string) (v align.Value) {
			if r := x.number("inputs", key); r != 0 {
				v = align.Stated(mOf(r))
			}
			return v
		}
		e := align.Element{Shape: align.Clothoid, Start: at(0), End: at(10), Turn: align.ToLeft, Length: align.Stated(mOf(x.number("inputs", "length"))),
			StartRadius: radius("radius_start"), EndRadius: radius("radius_end")}
		for _, turned := range []bool{false, true} { // and the same from its end
			if turned {
				e.Start, e.End, e.StartRadius, e.EndRadius, e.Turn = e.End, e.Start, e.EndRadius, e.StartRadius, align.ToRight
			}
			a := build(t, 0, e)
			assert.InDelta(t, 100, a.End().Metres(), within)
			for i := range s {
				along := mOf(s[i])
				if turned {
					along = a.End() - along
				}
				along = min(max(along, 0), a.End())
				p, bearing, err := a.At(along, 0)
				require.NoError(t, err)
				assert.Less(t, apart(at(i), p), within, "%s at %v", name, s[i])
				if i == 0 {
					want := math.Pi / 2
					if turned {
						want *= 3
					}
					assert.InDelta(t, want, bearing, 1e-11, "the direction at the start, which was not given")
				}
				hits := a.Locate(at(i), unit.Metre)
				require.Len(t, hits, 1)
				assert.InDelta(t, along.Metres(), hits[0].Chainage.Metres(), within)
				assert.InDelta(t, 0, hits[0].Offset.Metres(), within)
			}
		}
	}
}

// quality is an example of testdata/worked/quality.
type quality map[string]any

func readQuality(t *testing.T, name, kind, status string) quality {
	text, err := os.ReadFile(filepath.Join(fixture.Root(t), "testdata", "worked", "quality", name+".json"))
	require.NoError(t, err)
	var q quality
	require.NoError(t, json.Unmarshal(text, &q))
	require.Equal(t, kind, q["kind"])
	require.Equal(t, status, q["status"])
	return q
}

func (q quality) number(part, key string) float64 { return q[part].(map[string]any)[key].(float64) }

func (q quality) list(part, key string) (out []float64) {
	return numbers(q[part].(map[string]any)[key])
}

// tangentArc is an alignment of an arc alone, from the point of intersection, the
// bearing in and the deflection.
func tangentArc(t *testing.T, pi align.Place, bearing, radius, delta float64, turn align.Turn, u unit.Unit) (a *align.Alignment, tangent float64) {
	m := u.Size.Metres()
	tangent = radius * math.Tan(delta/2)
	out := bearing - float64(turn)*delta
	at := func(b, d float64) align.Place {
		return align.Place{E: pi.E + mOf(m*d*math.Sin(b)), N: pi.N + mOf(m*d*math.Cos(b))}
	}
	return build(t, 0, align.Element{Shape: align.Arc, Start: at(bearing, -tangent), End: at(out, tangent), Turn: turn, Radius: align.Stated(mOf(m * radius))}), tangent
}

// A published horizontal curve: length, chord, external and middle ordinate, and
// the two chainages of its end as a station equation. Its status is rounding: the
// source adds rounded parts.
func TestPublishedArc(t *testing.T) {
	x := readQuality(t, "mahun-horizontal-curve-55deg", "horizontal_curve", "rounding")
	in, want := func(key string) float64 { return x.number("inputs", key) }, func(key string) float64 { return x.number("want", key) }
	ft := unit.Ft.Size.Metres()
	delta := in("delta_deg") * math.Pi / 180
	close := func(key string, got float64) {
		t.Helper()
		assert.InDelta(t, want(key), got, x.number("within", key), key)
	}
	pi := place(in("pi_E")*ft, in("pi_N")*ft)
	for _, turn := range []align.Turn{align.ToLeft, align.ToRight} { // the source does not tell
		a, tangent := tangentArc(t, pi, in("az_in_deg")*math.Pi/180, in("R"), delta, turn, unit.Ft)
		close("L", a.End().Metres()/ft)
		close("T", tangent)
		start, b0, err := a.At(0, 0)
		require.NoError(t, err)
		end, b1, err := a.At(a.End(), 0)
		require.NoError(t, err)
		assert.InDelta(t, delta*float64(turn), math.Remainder(b0-b1, 2*math.Pi), 1e-12)
		close("LC", apart(start, end)/ft)
		// from the PI to the arc, and from the arc to the middle of the chord
		hits := a.Locate(pi, 1000*unit.InternationalFoot)
		require.Len(t, hits, 1)
		close("E", float64(turn)*hits[0].Offset.Metres()/ft)
		assert.InDelta(t, a.End().Metres()/2, hits[0].Chainage.Metres(), 1e-9)
		middle := align.Place{E: (start.E + end.E) / 2, N: (start.N + end.N) / 2}
		hits = a.Locate(middle, 100*unit.InternationalFoot)
		require.Len(t, hits, 1)
		close("M", -float64(turn)*hits[0].Offset.Metres()/ft)

		begin := mOf((in("pi_sta") - tangent) * ft)
		close("bc_sta", begin.Metres()/ft)
		s, flaws := align.NewStations(begin, begin+a.End()+1000*unit.InternationalFoot, []align.Equation{{Internal: begin + a.End(),
			Back: align.Stated(mOf(want("ec_sta_back") * ft)), Ahead: mOf(want("ec_sta_ahead") * ft)}}, mOf(x.number("within", "ec_sta_back")*ft), unit.Ft)
		require.Empty(t, flaws)
		shown, err := s.Shown(begin + a.End())
		require.NoError(t, err)
		require.Len(t, shown, 2)
		close("ec_sta_back", shown[0].Value.Metres()/ft)
		close("ec_sta_ahead", in("pi_sta")+tangent)
		assert.Equal(t, "27+60.284", align.FormatStation(shown[1].Value, 100*unit.InternationalFoot, unit.Ft, 3))
	}
}

// Two curves by degree of curve, 18000/(degree·π) ft.
func TestPublishedArcsByDegree(t *testing.T) {
	x := readQuality(t, "highway-degree-curves-tangents", "two_curves", "as_printed")
	in, ft := func(key string) float64 { return x.number("inputs", key) }, unit.Ft.Size.Metres()
	radius := 18000 / math.Pi / in("D")
	assert.InDelta(t, x.number("want", "R"), radius, x.number("within", "R"))
	for _, n := range []string{"1", "2"} {
		a, tangent := tangentArc(t, place(1000, 2000), 53.5*math.Pi/180, radius, in("delta"+n)*math.Pi/180, align.ToRight, unit.Ft)
		length := a.End().Metres() / ft
		assert.InDelta(t, x.number("want", "T"+n), tangent, x.number("within", "T"+n))
		assert.InDelta(t, x.number("want", "L"+n), length, x.number("within", "L"+n))
		if n == "1" {
			assert.InDelta(t, x.number("want", "pc1"), in("pi1_sta")-tangent, x.number("within", "pc1"))
			assert.InDelta(t, x.number("want", "pt1"), in("pi1_sta")-tangent+length, x.number("within", "pt1"))
		}
	}
}

// Two vertical curves of the same author as above, with more of their answers.
func TestPublishedCrests(t *testing.T) {
	for _, name := range []string{"mahun-crest-curve-500ft", "mahun-crest-curve-600ft-bvc-evc"} {
		x := readQuality(t, name, "vertical_curve", "as_printed")
		in, ft := func(key string) float64 { return x.number("inputs", key) }, unit.Ft.Size.Metres()
		l, z, half := in("L"), in("pvi_elev"), in("L")/2
		at := func(sta, elev float64) align.PVI { return align.PVI{Chainage: mOf(sta * ft), Level: mOf(elev * ft)} }
		pvi := at(in("pvi_sta"), z)
		pvi.Curve, pvi.Length = align.Parabola, mOf(l*ft)
		p, flaws := align.NewProfile([]align.PVI{at(in("pvi_sta")-half-100, z-(half+100)*in("g1")/100), pvi, at(in("pvi_sta")+half+100, z+(half+100)*in("g2")/100)},
			align.ProfileOptions{In: unit.Ft})
		require.Empty(t, flaws)
		levels, grades := x.list("want", "elev"), x.list("want", "grade")
		for i, sta := range x.list("want", "stations") {
			got, err := p.Level(mOf(sta * ft))
			require.NoError(t, err)
			assert.InDelta(t, levels[i], got.Metres()/ft, x.number("within", "elev"), "%s at %v", name, sta)
			_, g, err := p.Grade(mOf(sta * ft))
			require.NoError(t, err)
			assert.InDelta(t, grades[i], 100*g, x.number("within", "grade"))
		}
		if _, ok := x["want"].(map[string]any)["turning_sta"]; ok {
			turnings := p.Turnings()
			require.Len(t, turnings, 1)
			assert.True(t, turnings[0].High)
			assert.InDelta(t, x.number("want", "turning_sta"), turnings[0].From.Metres()/ft, x.number("within", "turning_sta"))
			assert.InDelta(t, x.number("want", "turning_elev"), turnings[0].Level.Metres()/ft, x.number("within", "turning_elev"))
		}
	}
}
