package levels_test

import (
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/convert/levels"
	"sightrail/formats/fixture"
	"sightrail/formats/unit"
)

// worked is a file of testdata/worked/levelling; its README tells the keys.
type worked struct {
	Book   string
	Unit   string
	Within string
	Source struct{ Work, Place, Grade, Answers string }
	Remark string

	Line struct {
		Computed, Known, Length, Interval string
		Points                            int
		Sights                            []string
		AtUnit                            string
		Marks                             []struct{ Name, At, Level string }
	}
	Wires                   []struct{ Upper, Middle, Lower, Constant string }
	HalfIntervalDifferences []string

	Want struct {
		Rows                                                       []struct{ RL, HPC, Rise, Fall string }
		SumBS, SumFS, SumRise, SumFall, LastMinusFirst, Misclosure string
		Length, GradeOneIn                                         string
		Wires                                                      []struct{ Mean, UpperHalf, LowerHalf, Interval, Distance string }
		Corrections                                                []string
		Differs                                                    []struct {
			Row   int
			Field string
		}
	}

	unit   unit.Unit
	within unit.Length
}

// outside reports whether agreement with it is agreement with an outside
// source: grade A or B with printed answers.
func (w *worked) outside() bool {
	return (w.Source.Grade == "A" || w.Source.Grade == "B") && w.Source.Answers == "printed"
}

func (w *worked) length(t *testing.T, text string) unit.Length {
	l, exact, err := unit.Parse(text, w.unit)
	require.NoError(t, err)
	require.True(t, exact, text)
	return l
}

// check compares a figure with the printed one; nothing printed is no check.
func (w *worked) check(t *testing.T, what, printed string, got levels.Value) {
	if printed == "" {
		return
	}
	if assert.True(t, got.Set, what) {
		assert.LessOrEqual(t, (got.L - w.length(t, printed)).Abs(), w.within, "%s: %s, the source has %s", what, got.L.Exact(w.unit, 3), printed)
	}
}

// workedFiles finds the files of testdata/worked/levelling: the books (.csv), or
// the examples (.json) that one test works out.
func workedFiles(t *testing.T, pattern, by string) []string {
	files, err := filepath.Glob(filepath.Join(fixture.Root(t), "testdata", "worked", "levelling", pattern))
	require.NoError(t, err)
	files = slices.DeleteFunc(files, func(file string) bool {
		return filepath.Ext(file) == ".json" && testedBy(t, file) != by
	})
	require.NotEmpty(t, files)
	return files
}

func nameOfFile(path string) string {
	return strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))
}

func readWorked(t *testing.T, path string) *worked {
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	w := &worked{}
	d := json.NewDecoder(f)
	d.DisallowUnknownFields() // a misspelt key would be a check that is not made
	require.NoError(t, d.Decode(w))
	require.NotEmpty(t, w.Source.Work)
	require.NotEmpty(t, w.Source.Place)
	require.Contains(t, []string{"A", "B", "C"}, w.Source.Grade)
	require.Contains(t, []string{"printed", "key", "author", "site", "none", "misprint"}, w.Source.Answers)
	var ok bool
	w.unit, ok = unit.ByName(w.Unit)
	require.True(t, ok)
	w.within = w.length(t, w.Within)
	return w
}

// readBook reads a book of testdata/worked the plain way, without the decoders
// of the program.
func (w *worked) readBook(t *testing.T, path string) []levels.Row {
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	cells, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	var rows []levels.Row
	for _, rec := range cells[1:] {
		text := func(name string) string {
			for i, h := range cells[0] {
				if h == name+" ("+w.Unit+")" || h == name {
					return rec[i]
				}
			}
			return ""
		}
		get := func(name string) levels.Value {
			if s := text(name); s != "" {
				return levels.Of(w.length(t, s))
			}
			return levels.Value{}
		}
		row := levels.Row{Name: text("Point"), BS: get("BS"), IS: get("IS"), FS: get("FS"), Known: get("Known"),
			Booked: &levels.Booked{Rise: get("Rise"), Fall: get("Fall"), Level: get("RL")}}
		if up, mid, lo := get("BS upper"), get("BS middle"), get("BS lower"); up.Set {
			mean, _, _ := levels.ThreeWire(up.L, mid.L, lo.L)
			row.BS = levels.Of(mean)
		}
		if text("Inverted") == "yes" {
			for _, v := range []*levels.Value{&row.BS, &row.IS, &row.FS} {
				v.L = -v.L.Abs()
			}
		}
		rows = append(rows, row)
	}
	return rows
}

// The examples of testdata/worked/levelling against the answers of their
// sources, which each file names.
func TestPublishedBooks(t *testing.T) {
	var outside, weaker []string
	for _, file := range workedFiles(t, "*.json", booksTest) {
		w := readWorked(t, file)
		name := nameOfFile(file)
		t.Run(name, func(t *testing.T) {
			counts := "agreement with it counts as outside agreement"
			if !w.outside() {
				counts = "a weaker source: agreement with it does not count"
			}
			t.Logf("%s, %s; grade %s, answers %s: %s", w.Source.Work, w.Source.Place, w.Source.Grade, w.Source.Answers, counts)
			if w.Book != "" {
				w.checkBook(t, filepath.Join(filepath.Dir(file), w.Book))
			}
			if w.Line.Computed != "" {
				w.checkLine(t)
			}
			w.checkWires(t)
		})
		if w.outside() {
			outside = append(outside, name)
		} else {
			weaker = append(weaker, name)
		}
	}
	t.Logf("outside agreement: %s", strings.Join(outside, ", "))
	t.Logf("weaker sources: %s", strings.Join(weaker, ", "))
	assert.Equal(t, []string{"booking-49-872-one-mm-slip", "centre-wire-correction", "ea-bm19", "inverted-underground-soffits", "nptel-13-3", "three-wire-ft"}, outside)
}

func (w *worked) checkBook(t *testing.T, path string) {
	rows := w.readBook(t, path)
	res := levels.Reduce(rows, levels.Options{BookedWithin: w.within, Unit: w.unit})
	require.Empty(t, res.Mistakes)
	assert.True(t, res.ArithmeticOK, "ΣBS − ΣFS = ΣRise − ΣFall = last − first")
	require.Len(t, res.Rows, len(w.Want.Rows))
	for i, r := range w.Want.Rows {
		got := &res.Rows[i]
		w.check(t, rows[i].Name+" level", r.RL, got.Level)
		w.check(t, rows[i].Name+" collimation", r.HPC, got.Collimation)
		w.check(t, rows[i].Name+" rise", r.Rise, got.Rise)
		w.check(t, rows[i].Name+" fall", r.Fall, got.Fall)
	}
	w.check(t, "ΣBS", w.Want.SumBS, levels.Of(res.Sums.BS))
	w.check(t, "ΣFS", w.Want.SumFS, levels.Of(res.Sums.FS))
	w.check(t, "Σrise", w.Want.SumRise, levels.Of(res.Sums.Rise))
	w.check(t, "Σfall", w.Want.SumFall, levels.Of(res.Sums.Fall))
	w.check(t, "last − first", w.Want.LastMinusFirst, res.FirstToLast)
	w.check(t, "misclosure", w.Want.Misclosure, res.Runs[0].Misclosure)
	require.Len(t, res.BookedDiffers, len(w.Want.Differs))
	for i, d := range w.Want.Differs {
		assert.Equal(t, d.Row, res.BookedDiffers[i].Index)
		assert.Equal(t, d.Field, res.BookedDiffers[i].Field)
	}
	if w.Want.GradeOneIn != "" {
		run := w.length(t, w.Line.Interval) * unit.Length(w.Line.Points-1)
		w.check(t, "length", w.Want.Length, levels.Of(run))
		fall := unit.Grade{Rise: -res.FirstToLast.L, Run: run}
		n, err := unit.ParseGrade("1 in " + w.Want.GradeOneIn)
		require.NoError(t, err)
		off := unit.MulDiv(unit.Metre, fall.Run, fall.Rise) - unit.MulDiv(unit.Metre, n.Run, n.Rise)
		assert.LessOrEqual(t, off.Abs(), unit.Metre/2, "1 in %s, printed to the whole number; %s", w.Want.GradeOneIn, fall.OneIn())
	}
}

// checkLine closes a line of which only the levels at the end are known. The
// readings are made to carry them; sights and misclosure are those of the
// source.
func (w *worked) checkLine(t *testing.T) {
	computed, known := w.length(t, w.Line.Computed), w.length(t, w.Line.Known)
	sights := w.Line.Sights
	if len(sights) == 0 {
		sights = []string{"1", "1"}
	}
	require.Zero(t, len(sights)%2)
	setups := len(sights) / 2
	rows := make([]levels.Row, setups+1)
	change := unit.MulDiv(computed, 1, unit.Length(setups)*100)
	for k := range setups {
		rows[k].Name, rows[k+1].Name = "C"+string(rune('A'+k)), "C"+string(rune('B'+k))
		rows[k].BS, rows[k].DistBS = levels.Of(w.unit.Size), levels.Of(w.length(t, sights[2*k]))
		rows[k+1].FS, rows[k+1].DistFS = levels.Of(w.unit.Size-change), levels.Of(w.length(t, sights[2*k+1]))
	}
	rows[0].Known = levels.Of(computed - change*unit.Length(setups))
	rows[setups].Known = levels.Of(known)
	res := levels.Reduce(rows, levels.Options{Rule: levels.Rule{Coef: unit.Metre, Text: "1 m"}, Distribute: levels.ByDistance, Unit: w.unit})
	require.Empty(t, res.Mistakes)
	run := &res.Runs[0]
	w.check(t, "misclosure", w.Want.Misclosure, run.Misclosure)
	w.check(t, "length", w.Want.Length, run.Distance)
	last := &res.Rows[setups]
	assert.Equal(t, -run.Misclosure.L, last.Adjusted.L-last.Level.L, "the correction has the opposite sign")
	assert.Equal(t, levels.Of(known), last.Adjusted)
	if marks := w.Line.Marks; len(marks) > 0 {
		assert.Equal(t, w.Line.Known, marks[0].Level)
		assert.Equal(t, w.Line.Computed, marks[len(marks)-1].Level)
	}
}

// checkWires checks means, half intervals and stadia distances, and the
// correction from the middle wire to the mean.
func (w *worked) checkWires(t *testing.T) {
	require.Len(t, w.Want.Wires, len(w.Wires))
	for i, x := range w.Wires {
		want := &w.Want.Wires[i]
		upper, lower := w.length(t, x.Upper), w.length(t, x.Lower)
		mean, upperHalf, lowerHalf := levels.ThreeWire(upper, w.length(t, x.Middle), lower)
		w.check(t, "mean", want.Mean, levels.Of(mean))
		w.check(t, "upper half interval", want.UpperHalf, levels.Of(upperHalf))
		w.check(t, "lower half interval", want.LowerHalf, levels.Of(lowerHalf))
		w.check(t, "interval", want.Interval, levels.Of(upper-lower))
		constant, exact, err := unit.ParseDecimal(x.Constant)
		require.NoError(t, err)
		require.True(t, exact)
		d, err := levels.StadiaDistance(upper, lower, constant.Coef)
		require.NoError(t, err)
		w.check(t, "distance", want.Distance, levels.Of(d))
	}
	require.Len(t, w.Want.Corrections, len(w.HalfIntervalDifferences))
	for i, x := range w.HalfIntervalDifferences {
		middle, half := w.unit.Size, w.unit.Size/10
		mean, _, _ := levels.ThreeWire(middle+half+w.length(t, x), middle, middle-half)
		w.check(t, "correction for "+x, w.Want.Corrections[i], levels.Of(mean-middle))
	}
}

// Every book is in a file of its own, and no file is without its source.
func TestEveryBookHasItsSource(t *testing.T) {
	var named []string
	for _, file := range workedFiles(t, "*.json", booksTest) {
		if w := readWorked(t, file); w.Book != "" {
			named = append(named, w.Book)
			assert.Equal(t, nameOfFile(file), nameOfFile(w.Book))
		}
	}
	var there []string
	for _, file := range workedFiles(t, "*.csv", booksTest) {
		there = append(there, filepath.Base(file))
	}
	slices.Sort(named)
	assert.Equal(t, there, named)
	assert.Len(t, there, 14)
}

// The transcription against the collection of check values it was made from,
// figure by figure, where that is at hand.
func TestTranscription(t *testing.T) {
	compared := 0
	for _, file := range workedFiles(t, "*.csv", booksTest) {
		source := fixture.Shared(t, "published", "levelling", "lb-"+nameOfFile(file)+".json")
		text, err := os.ReadFile(source)
		if os.IsNotExist(err) { // the three wires and the misprinted book are not in it by that name
			continue
		}
		require.NoError(t, err)
		var s struct {
			Inputs struct {
				Known   []struct{ RL json.Number }
				Closing struct{ RL json.Number }
				Rows    []struct {
					Point      string
					BS, IS, FS json.Number
				}
			}
			Expected struct {
				Rows  []struct{ RL, HPC, Rise, Fall json.Number }
				BS    json.Number `json:"sum_bs"`
				FS    json.Number `json:"sum_fs"`
				Rise  json.Number `json:"sum_rise"`
				Fall  json.Number `json:"sum_fall"`
				Moved json.Number `json:"last_minus_first"`

				Misclosure json.Number
			}
			Source struct{ Grade, Answers string }
		}
		require.NoError(t, json.Unmarshal(text, &s))
		if len(s.Inputs.Rows) == 0 {
			continue
		}
		w := readWorked(t, strings.TrimSuffix(file, ".csv")+".json")
		rows := w.readBook(t, file)
		require.Len(t, rows, len(s.Inputs.Rows))
		same := func(what string, want json.Number, got levels.Value) {
			if assert.Equal(t, want != "", got.Set, what) && got.Set {
				assert.Equal(t, w.length(t, want.String()), got.L, what)
				compared++
			}
		}
		printed := func(what string, want json.Number, got string) {
			v := levels.Value{Set: got != ""}
			if v.Set {
				v.L = w.length(t, got)
			}
			same(nameOfFile(file)+" "+what, want, v)
		}
		for i, r := range s.Inputs.Rows {
			assert.Equal(t, r.Point, rows[i].Name)
			same("BS of "+r.Point, r.BS, rows[i].BS)
			same("IS of "+r.Point, r.IS, rows[i].IS)
			same("FS of "+r.Point, r.FS, rows[i].FS)
		}
		same("first level", s.Inputs.Known[0].RL, rows[0].Known)
		same("closing level", s.Inputs.Closing.RL, rows[len(rows)-1].Known)
		require.Len(t, w.Want.Rows, len(s.Expected.Rows))
		for i, r := range s.Expected.Rows {
			got := &w.Want.Rows[i]
			printed("level of "+rows[i].Name, r.RL, got.RL)
			printed("collimation of "+rows[i].Name, r.HPC, got.HPC)
			printed("rise to "+rows[i].Name, r.Rise, got.Rise)
			printed("fall to "+rows[i].Name, r.Fall, got.Fall)
		}
		printed("sum of BS", s.Expected.BS, w.Want.SumBS)
		printed("sum of FS", s.Expected.FS, w.Want.SumFS)
		printed("sum of rises", s.Expected.Rise, w.Want.SumRise)
		printed("sum of falls", s.Expected.Fall, w.Want.SumFall)
		printed("last minus first", s.Expected.Moved, w.Want.LastMinusFirst)
		printed("misclosure", s.Expected.Misclosure, w.Want.Misclosure)
		assert.Equal(t, s.Source.Grade, w.Source.Grade)
		assert.Equal(t, s.Source.Answers, w.Source.Answers)
	}
	assert.Equal(t, 237, compared)
}
