package qa_test

import (
	"encoding/json"
	"fmt"
	"math/big"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/convert/levels"
	"sightrail/formats/fixture"
	"sightrail/formats/unit"
	"sightrail/qa"
)

// workedSetout is an example of setting out in testdata/worked/levelling; its
// README tells the keys.
type workedSetout struct {
	Unit   string
	Source struct{ Work, Place, Grade, Answers string }
	Within string
	Remark string
	Setout struct {
		Length, Fall, UpstreamInvert, DownstreamInvert string
		Rails                                          []string
		Bore, Wall, SizesIn                            string
		Traveller, RailOverGround                      string
		Grounds                                        []struct{ At, Level string }
		ChainageFrom, Every                            string
		Chainage, FullStation                          string
	}
	Want struct {
		Traveller, Fall, Station string
		Rows                     []struct{ At, Invert, Top, Rail, RailOverGround string }
	}
}

func (w *workedSetout) outside() bool {
	return (w.Source.Grade == "A" || w.Source.Grade == "B") && w.Source.Answers == "printed"
}

// Published examples of sight rails, pipe levels and stations, set out by a job
// each. Their sources are in the files; only one is strong enough to count as
// outside agreement.
func TestPublishedSetout(t *testing.T) {
	list, err := filepath.Glob(filepath.Join(fixture.Root(t), "testdata", "worked", "levelling", "*.json"))
	require.NoError(t, err)
	var outside, all []string
	for _, file := range list {
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		if !strings.Contains(string(text), `"setout": {`) {
			continue
		}
		w := &workedSetout{}
		d := json.NewDecoder(strings.NewReader(string(text)))
		d.DisallowUnknownFields()
		require.NoError(t, d.Decode(w), file)
		name := strings.TrimSuffix(filepath.Base(file), ".json")
		all = append(all, name)
		counts := "a weaker source: agreement with it does not count"
		if w.outside() {
			outside = append(outside, name)
			counts = "agreement with it counts as outside agreement"
		}
		t.Run(name, func(t *testing.T) {
			t.Logf("%s, %s; grade %s, answers %s: %s", w.Source.Work, w.Source.Place, w.Source.Grade, w.Source.Answers, counts)
			if w.Want.Station != "" {
				w.checkStation(t)
			} else {
				w.checkRun(t)
			}
		})
	}
	assert.Equal(t, []string{"inv-top-of-pipe-2pct", "sr-a-b-1in125", "sr-two-rails-gradient", "sr-w-x-1in90", "st-plus-station-metric"}, all)
	assert.Equal(t, []string{"st-plus-station-metric"}, outside)
}

func (w *workedSetout) in(t *testing.T) unit.Unit {
	u, ok := unit.ByName(w.Unit)
	require.True(t, ok)
	return u
}

func (w *workedSetout) length(t *testing.T, text string) unit.Length {
	l, exact, err := unit.Parse(text, w.in(t))
	require.NoError(t, err)
	require.True(t, exact)
	return l
}

func (w *workedSetout) checkStation(t *testing.T) {
	places := len(w.Setout.Chainage) - strings.Index(w.Setout.Chainage, ".") - 1
	assert.Equal(t, w.Want.Station, qa.Station(w.length(t, w.Setout.Chainage), w.length(t, w.Setout.FullStation), w.in(t), places))
}

// inverts are those at the ends of the pipe, to nine decimals: a design file has
// no fractions.
func (w *workedSetout) inverts(t *testing.T) (us, ds string) {
	x := &w.Setout
	ratOf := func(s string) *big.Rat {
		r, ok := new(big.Rat).SetString(s)
		require.True(t, ok, s)
		return r
	}
	if len(x.Rails) == 2 {
		less := func(s string) string { return new(big.Rat).Sub(ratOf(s), ratOf(x.Traveller)).FloatString(9) }
		return less(x.Rails[0]), less(x.Rails[1])
	}
	g, err := unit.ParseGrade(x.Fall)
	require.NoError(t, err)
	fall := new(big.Rat).Mul(ratOf(x.Length), big.NewRat(int64(g.Rise), int64(g.Run)))
	if x.UpstreamInvert != "" {
		return x.UpstreamInvert, fall.Sub(ratOf(x.UpstreamInvert), fall).FloatString(9)
	}
	return fall.Add(ratOf(x.DownstreamInvert), fall).FloatString(9), x.DownstreamInvert
}

func (w *workedSetout) checkRun(t *testing.T) {
	x, u, within := &w.Setout, w.in(t), w.length(t, w.Within)
	d := drainOf{east: []string{"0", x.Length}, bore: x.Bore, wall: x.Wall}
	us, ds := w.inverts(t)
	d.inverts = [][2]string{{us, ds}}
	if w.Unit == "ft" {
		d.linear, d.diameter = "foot", map[string]string{"in": "inch", "": ""}[x.SizesIn]
	}
	every, from, traveller := x.Every, x.ChainageFrom, x.Traveller
	if every == "" {
		every = x.Length
	}
	if from == "" {
		from = "upstream"
	}
	keys := fmt.Sprintf("pipes: [P1], every: %s %s, chainageFrom: %s", every, w.Unit, from)
	f := files{"n.xml": d.xml()}
	if len(x.Grounds) > 0 {
		f["g.csv"] = "Point,Chainage (" + w.Unit + "),Level (" + w.Unit + ")\n"
		for _, g := range x.Grounds {
			f["g.csv"] += "," + g.At + "," + g.Level + "\n"
		}
		keys += ", ground: {file: g.csv}"
	}
	if x.RailOverGround != "" { // the traveller that puts the rail so far above the ground
		l := w.length(t, x.Grounds[0].Level) + w.length(t, x.RailOverGround) - w.length(t, x.DownstreamInvert)
		traveller = l.Exact(u, 3)
		assert.Equal(t, w.length(t, w.Want.Traveller), l)
	}
	if traveller != "" {
		keys += ", traveller: " + traveller + " " + w.Unit
	}
	text := strings.Replace(drainJob(keys, ""), "units: m", "units: "+w.Unit, 1)
	s := &setout(t, text, f).Sheets[0]
	require.Empty(t, s.Why)
	assert.Contains(t, strings.Join(s.Remarks, "\n"), w.Want.Fall)
	for _, want := range w.Want.Rows {
		at := w.length(t, want.At)
		found := false
		for i := range s.Rows {
			r := &s.Rows[i]
			if r.Chainage.L != at {
				continue
			}
			found = true
			for _, c := range []struct {
				what, printed string
				got           levels.Value
			}{{"invert", want.Invert, r.Design}, {"top", want.Top, r.Top}, {"rail", want.Rail, r.Rail}, {"rail over ground", want.RailOverGround, r.RailOverGround}} {
				if c.printed != "" && assert.True(t, c.got.Set, c.what) {
					assert.LessOrEqual(t, (c.got.L - w.length(t, c.printed)).Abs(), within, "%s at %s: %s, the source has %s", c.what, want.At, c.got.L.Fixed(u, 4), c.printed)
				}
			}
		}
		assert.True(t, found, "no row at %s", want.At)
	}
	for i, printed := range x.Rails {
		assert.Equal(t, w.length(t, printed), s.Rows[i].Rail.L)
	}
}

// The transcription against the collection it was made from, where that is at
// hand.
func TestSetoutTranscription(t *testing.T) {
	read := func(name string) (in, want map[string]any, source map[string]any) {
		text, err := os.ReadFile(fixture.Shared(t, "published", "levelling", name+".json"))
		require.NoError(t, err)
		var x struct{ Inputs, Expected, Source map[string]any }
		require.NoError(t, json.Unmarshal(text, &x))
		return x.Inputs, x.Expected, x.Source
	}
	ours := func(name string) *workedSetout {
		text, err := os.ReadFile(filepath.Join(fixture.Root(t), "testdata", "worked", "levelling", name+".json"))
		require.NoError(t, err)
		w := &workedSetout{}
		require.NoError(t, json.Unmarshal(text, w))
		_, _, source := read(name)
		assert.Equal(t, source["grade"], w.Source.Grade)
		assert.Equal(t, source["answers"], w.Source.Answers)
		return w
	}
	number := func(s string) any {
		r, ok := new(big.Rat).SetString(s)
		require.True(t, ok, s)
		f, _ := r.Float64()
		return f
	}
	w := ours("sr-a-b-1in125")
	in, want, _ := read("sr-a-b-1in125")
	assert.Equal(t, in["invert_at_first"], number(w.Setout.UpstreamInvert))
	assert.Equal(t, in["traveller"], number(w.Setout.Traveller))
	assert.Equal(t, want["rail_rl"].(map[string]any)["B"], number(w.Want.Rows[0].Rail))
	w = ours("sr-w-x-1in90")
	in, want, _ = read("sr-w-x-1in90")
	assert.Equal(t, in["invert_at_first"], number(w.Setout.DownstreamInvert))
	assert.Equal(t, in["rail_above_ground_at_first"], number(w.Setout.RailOverGround))
	assert.Equal(t, want["traveller"], number(w.Want.Traveller))
	for key, text := range map[string]string{"invert": w.Want.Rows[0].Invert, "rail_above_ground": w.Want.Rows[0].RailOverGround, "rail_rl": w.Want.Rows[0].Rail} {
		assert.Equal(t, want[key].(map[string]any)["W"], number(text), key)
	}
	for i, p := range in["points"].([]any) {
		assert.Equal(t, p.(map[string]any)["ground"], number(w.Setout.Grounds[i].Level))
	}
	w = ours("sr-two-rails-gradient")
	in, want, _ = read("sr-two-rails-gradient")
	assert.Equal(t, in["rl"], []any{number(w.Setout.Rails[0]), number(w.Setout.Rails[1])})
	assert.Contains(t, w.Want.Fall, fmt.Sprintf("1 in %v ", want["one_in"]))
	w = ours("inv-top-of-pipe-2pct")
	in, want, _ = read("inv-top-of-pipe-2pct")
	assert.Equal(t, in["invert0"], number(w.Setout.UpstreamInvert))
	for i, top := range want["top"].([]any) {
		assert.Equal(t, top, number(w.Want.Rows[i].Top))
	}
	w = ours("st-plus-station-metric")
	in, want, _ = read("st-plus-station-metric")
	assert.Equal(t, in["distance"], number(w.Setout.Chainage))
	assert.Equal(t, want["text"], w.Want.Station)
}

func TestStation(t *testing.T) {
	for _, x := range []struct{ at, full, want string }{
		{"0", "100", "0+00.000"}, {"99.9996", "100", "1+00.000"}, {"100", "100", "1+00.000"}, {"105.5", "100", "1+05.500"}, {"1234.5", "1000", "1+234.500"}, {"1034.5", "1000", "1+034.500"}, {"55", "50", "1+05.000"}, {"-5", "100", "-0+05.000"},
	} {
		at, _, err := unit.Parse(x.at, unit.M)
		require.NoError(t, err)
		full, _, err := unit.Parse(x.full, unit.M)
		require.NoError(t, err)
		assert.Equal(t, x.want, qa.Station(at, full, unit.M, 3), x.at)
	}
}
