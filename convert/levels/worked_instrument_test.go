package levels_test

import (
	"encoding/json"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/convert/levels"
	"sightrail/formats/fixture"
	"sightrail/formats/unit"
)

// subjects are the keys that say what an example is about, and the package whose
// tests work it out.
var subjects = map[string]string{
	"book": booksTest, "line": booksTest, "wires": booksTest, "halfIntervalDifferences": booksTest,
	"twoPeg": instrumentTest, "reciprocal": instrumentTest, "targets": instrumentTest, "curvature": instrumentTest,
	"setout": "qa", "network": "convert/adjust", "verticalCurve": "convert/align",
}

const (
	booksTest      = "convert/levels, TestPublishedBooks"
	instrumentTest = "convert/levels, TestPublishedInstruments"
)

// testedBy says whose tests work an example out.
func testedBy(t *testing.T, file string) string {
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	var keys map[string]json.RawMessage
	require.NoError(t, json.Unmarshal(text, &keys), file)
	by := ""
	for _, key := range slices.Sorted(maps.Keys(keys)) {
		who, ok := subjects[key]
		if !ok {
			continue
		}
		require.Contains(t, []string{"", who}, by, "%s has two subjects", file)
		by = who
	}
	return by
}

// No example lies there that nobody works out: its subject is in the list, and
// the tests of that package speak of it.
func TestEveryExampleIsTested(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(fixture.Root(t), "testdata", "worked", "levelling", "*.json"))
	require.NoError(t, err)
	for _, file := range files {
		by := testedBy(t, file)
		if !assert.NotEmpty(t, by, "%s: no key of it is in the list of subjects, so no test works it out; add the key with the package that does", filepath.Base(file)) {
			continue
		}
		folder, _, _ := strings.Cut(by, ",")
		tests, err := filepath.Glob(filepath.Join(fixture.Root(t), folder, "*_test.go"))
		require.NoError(t, err)
		assert.True(t, slices.ContainsFunc(tests, func(test string) bool {
			text, err := os.ReadFile(test)
			return err == nil && strings.Contains(string(text), `"worked", "levelling"`)
		}), "%s: no test of %s reads the worked examples", filepath.Base(file), folder)
	}
}

// instrument is an example about the instrument instead of a book. Figures are
// text, in its unit.
type instrument struct {
	Unit, Within, Remark string
	Source               struct{ Work, Place, Grade, Answers string }

	TwoPeg *struct {
		Mid, End       struct{ A, B, DistA, DistB string }
		LevelA, LevelB string
	}
	Reciprocal *struct {
		AtA, AtB                   struct{ A, B string }
		Distance, DropAtKm, LevelA string
	}
	Targets   *struct{ A, Gap, DrumA, DrumB, DrumLevel string }
	Curvature *struct {
		CurvatureAtKm, RefractionAtKm string
		CurvatureKm, RefractionKm     []string
	}
	Want struct {
		TrueFall, ApparentFall, ErrorPer100, RightB string // the error over 100 units
		LevelB, Drop, Collimation                   string
		Offset, Reading                             string
		Curvature, Refraction                       []string
	}
	Misprints []struct{ At, Printed, Used string }

	unit   unit.Unit
	within unit.Length
	checks int
}

func (w *instrument) length(t *testing.T, text string) unit.Length {
	l, exact, err := unit.Parse(text, w.unit)
	require.NoError(t, err)
	require.True(t, exact, text)
	return l
}

func (w *instrument) value(t *testing.T, text string) levels.Value {
	if text == "" {
		return levels.Value{}
	}
	return levels.Of(w.length(t, text))
}

func (w *instrument) check(t *testing.T, what, printed string, got unit.Length) {
	if printed == "" {
		return
	}
	w.checks++
	assert.LessOrEqual(t, (got - w.length(t, printed)).Abs(), w.within, "%s: %s, the source has %s", what, got.Exact(w.unit, 3), printed)
}

// counts says what agreement with the source is worth.
func (w *instrument) counts() string {
	switch s := w.Source; {
	case (s.Grade == "A" || s.Grade == "B") && s.Answers == "printed":
		return "outside agreement"
	case s.Answers == "key":
		return "agrees with an exam key, grade " + s.Grade
	case s.Answers == "site":
		return "agrees with a question site, grade " + s.Grade
	default:
		return "agrees with the author of a page, grade " + s.Grade
	}
}

// The examples about instruments in testdata/worked/levelling against the
// answers of their sources, which each file names.
func TestPublishedInstruments(t *testing.T) {
	worth := map[string][]string{}
	for _, file := range workedFiles(t, "*.json", instrumentTest) {
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		d := json.NewDecoder(strings.NewReader(string(text)))
		d.DisallowUnknownFields()
		w := &instrument{}
		require.NoError(t, d.Decode(w), file)
		require.NotEmpty(t, w.Source.Work)
		require.NotEmpty(t, w.Source.Place)
		require.Contains(t, []string{"A", "B", "C"}, w.Source.Grade)
		require.Contains(t, []string{"printed", "key", "author", "site"}, w.Source.Answers)
		var ok bool
		w.unit, ok = unit.ByName(w.Unit)
		require.True(t, ok)
		w.within = w.length(t, w.Within)
		t.Run(nameOfFile(file), func(t *testing.T) {
			t.Logf("%s, %s: %s", w.Source.Work, w.Source.Place, w.counts())
			switch {
			case w.TwoPeg != nil:
				w.twoPeg(t)
			case w.Reciprocal != nil:
				w.reciprocal(t)
			case w.Targets != nil:
				w.targets(t)
			case w.Curvature != nil:
				w.curvature(t)
			}
			assert.NotZero(t, w.checks, "nothing was compared")
			for _, m := range w.Misprints {
				assert.Equal(t, m.Used, at(t, text, m.At), "the misprint at %s", m.At)
				assert.NotEqual(t, m.Used, m.Printed)
			}
		})
		worth[w.counts()] = append(worth[w.counts()], nameOfFile(file))
	}
	assert.Equal(t, map[string][]string{
		"outside agreement":                         {"river-crossing-two-targets"},
		"agrees with an exam key, grade C":          {"reciprocal-over-pegs", "two-peg-50m-at-a", "two-peg-80m-beyond-a", "two-peg-known-levels-25m-50m"},
		"agrees with a question site, grade B":      {"reciprocal-500m-slips"},
		"agrees with the author of a page, grade C": {"curvature-four-distances"},
	}, worth)
}

// at finds a value of a JSON text by its path.
func at(t *testing.T, text []byte, path string) string {
	var v any
	require.NoError(t, json.Unmarshal(text, &v))
	for _, key := range strings.Split(path, ".") {
		switch x := v.(type) {
		case map[string]any:
			v = x[key]
		case []any:
			n, err := strconv.Atoi(key)
			require.NoError(t, err)
			v = x[n]
		}
	}
	s, ok := v.(string)
	require.True(t, ok, path)
	return s
}

func (w *instrument) twoPeg(t *testing.T) {
	set := func(s struct{ A, B, DistA, DistB string }) levels.PegSetup {
		if s.A == "" {
			return levels.PegSetup{}
		}
		return levels.PegSetup{A: w.length(t, s.A), B: w.length(t, s.B), DistA: w.value(t, s.DistA), DistB: w.value(t, s.DistB)}
	}
	r, err := levels.TwoPeg{Mid: set(w.TwoPeg.Mid), End: set(w.TwoPeg.End), KnownA: w.value(t, w.TwoPeg.LevelA), KnownB: w.value(t, w.TwoPeg.LevelB)}.Result()
	require.NoError(t, err)
	w.check(t, "true fall from A to B", w.Want.TrueFall, -r.True)
	w.check(t, "apparent fall from A to B", w.Want.ApparentFall, -r.Apparent)
	w.check(t, "error of the line of sight over 100", w.Want.ErrorPer100, r.Error.Over(100*w.unit.Size))
	w.check(t, "right reading on B", w.Want.RightB, r.RightB)
}

func (w *instrument) reciprocal(t *testing.T) {
	x := w.Reciprocal
	r := levels.Reciprocal{AtA: levels.Bank{A: w.length(t, x.AtA.A), B: w.length(t, x.AtA.B)},
		AtB: levels.Bank{A: w.length(t, x.AtB.A), B: w.length(t, x.AtB.B)}, Distance: w.value(t, x.Distance)}
	if x.DropAtKm != "" {
		c, err := levels.DropAt(w.length(t, x.DropAtKm), unit.KM.Size)
		require.NoError(t, err)
		r.Curvature = c
	}
	got, err := r.Result()
	require.NoError(t, err)
	w.check(t, "true fall from A to B", w.Want.TrueFall, -got.True)
	if x.LevelA != "" {
		w.check(t, "level of B", w.Want.LevelB, w.length(t, x.LevelA)+got.True)
	}
	w.check(t, "curvature and refraction", w.Want.Drop, got.Drop.L)
	w.check(t, "collimation", w.Want.Collimation, got.Collimation.L)
	if w.Want.ErrorPer100 != "" {
		w.check(t, "error of the line of sight over 100", w.Want.ErrorPer100, got.Slope.Over(100*w.unit.Size))
	}
}

func (w *instrument) targets(t *testing.T) {
	drum := func(s string) unit.Decimal {
		d, exact, err := unit.ParseDecimal(s)
		require.NoError(t, err)
		require.True(t, exact)
		return d
	}
	a := w.length(t, w.Targets.A)
	reading, fromA, err := levels.Targets{A: a, B: a - w.length(t, w.Targets.Gap),
		DrumA: drum(w.Targets.DrumA), DrumB: drum(w.Targets.DrumB), DrumAt: drum(w.Targets.DrumLevel)}.Reading()
	require.NoError(t, err)
	w.check(t, "level line below target A", w.Want.Offset, -fromA)
	w.check(t, "level line", w.Want.Reading, reading)
}

func (w *instrument) curvature(t *testing.T) {
	drops := func(atKm string, km, want []string, what string, sign unit.Length) {
		c, err := levels.DropAt(sign*w.length(t, atKm), unit.KM.Size)
		require.NoError(t, err)
		require.Len(t, want, len(km))
		for i := range km {
			d, err := c.At(w.length(t, km[i]) * 1000)
			require.NoError(t, err)
			w.check(t, what+" at "+km[i]+" km", want[i], sign*d)
		}
	}
	drops(w.Curvature.CurvatureAtKm, w.Curvature.CurvatureKm, w.Want.Curvature, "curvature", 1)
	drops(w.Curvature.RefractionAtKm, w.Curvature.RefractionKm, w.Want.Refraction, "refraction", -1)
}

// The transcription against the collection of check values it was made from,
// where that is at hand: every number of the one is a number of the other.
func TestTranscriptionOfInstruments(t *testing.T) {
	for name, source := range map[string]string{"two-peg-80m-beyond-a": "tp-80m-beyond-a", "two-peg-50m-at-a": "tp-50m-at-a",
		"two-peg-known-levels-25m-50m": "tp-25m-50m-swapped-readings", "reciprocal-500m-slips": "rc-500m-slips", "reciprocal-over-pegs": "rc-over-pegs-eyepiece",
		"curvature-four-distances": "cr-four-distances", "river-crossing-two-targets": "rx-target-drum"} {
		text, err := os.ReadFile(fixture.Shared(t, "published", "levelling", source+".json"))
		require.NoError(t, err)
		var s struct {
			Inputs, Expected any
			Corrections      []struct{ Printed, Used any }
			Tolerance        any
			Source           struct{ Grade, Answers string }
		}
		require.NoError(t, json.Unmarshal(text, &s))
		text, err = os.ReadFile(filepath.Join(fixture.Root(t), "testdata", "worked", "levelling", name+".json"))
		require.NoError(t, err)
		var ours map[string]any
		require.NoError(t, json.Unmarshal(text, &ours))
		place := ours["source"].(map[string]any)
		assert.Equal(t, s.Source.Grade, place["grade"], name)
		assert.Equal(t, s.Source.Answers, place["answers"], name)
		assert.Equal(t, s.Tolerance, numbers(ours["within"])[0], name)
		var want, got []float64
		for _, c := range s.Corrections {
			want = append(want, numbers(c.Printed)...)
			want = append(want, numbers(c.Used)...)
		}
		misprints, _ := ours["misprints"].([]any)
		for _, m := range misprints {
			got = append(got, numbers(m)...)
		}
		if len(s.Corrections) > 0 {
			assert.ElementsMatch(t, want, got, name)
		}
		want, got = append(numbers(s.Inputs), numbers(s.Expected)...), nil
		for key, v := range ours {
			if key == "want" || subjects[key] != "" {
				got = append(got, numbers(v)...)
			}
		}
		for i := range want { // kilometres, rises, and an error without its direction
			switch {
			case source == "rc-500m-slips" && want[i] == 0.5:
				want[i] = 500
			case source == "rc-over-pegs-eyepiece" && want[i] == 0.77:
				want[i] = -0.77
			}
		}
		assert.ElementsMatch(t, want, got, name)
	}
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
