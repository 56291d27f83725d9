package adjust_test

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/convert/adjust"
	"sightrail/formats/fixture"
	"sightrail/formats/unit"
)

// network is a file of testdata/worked/levelling with a network; its README tells
// the keys.
type network struct {
	Unit, Within string
	Source       struct{ Work, Place, Grade, Answers string }
	Remark       string
	Network      struct {
		Marks        []struct{ Name, Level string }
		Observations []struct {
			From, To, Difference string
			Setups               int
		}
		Solutions []solution
	}
	unit unit.Unit
}

type solution struct {
	Weights    string
	Levels     []struct{ Name, Level, SD string }
	S0         string
	Residuals  []string
	Adjusted   []string
	AdjustedSD []string
	Squares    []struct{ To, Sum string }
	Misprints  []struct{ Of, Printed string }
}

func readNetwork(t *testing.T, name string) *network {
	f, err := os.Open(filepath.Join(fixture.Root(t), "testdata", "worked", "levelling", name+".json"))
	require.NoError(t, err)
	defer f.Close()
	w := &network{}
	d := json.NewDecoder(f)
	d.DisallowUnknownFields()
	require.NoError(t, d.Decode(w))
	var ok bool
	w.unit, ok = unit.ByName(w.Unit)
	require.True(t, ok)
	return w
}

func (w *network) length(t *testing.T, text string) unit.Length {
	l, exact, err := unit.Parse(text, w.unit)
	require.NoError(t, err)
	require.True(t, exact)
	return l
}

// mm per unit of the example.
func (w *network) mm() float64 { return w.unit.Size.Millimetres() }

// build makes the network of a solution: only the ratios of weights count.
func (w *network) build(t *testing.T, weights string) (*adjust.Network, map[string]int) {
	n, index := &adjust.Network{}, map[string]int{}
	for _, m := range w.Network.Marks {
		index[m.Name] = len(n.Points)
		n.Points = append(n.Points, adjust.Point{Name: m.Name, Held: true, Level: w.length(t, m.Level)})
	}
	for i, o := range w.Network.Observations {
		for _, name := range []string{o.From, o.To} {
			if _, there := index[name]; !there {
				index[name] = len(n.Points)
				n.Points = append(n.Points, adjust.Point{Name: name})
			}
		}
		v := 1.0
		if weights == "12/setups" {
			v = float64(o.Setups) / 12
		} else {
			require.Equal(t, "equal", weights)
		}
		n.Observations = append(n.Observations, adjust.Observation{From: index[o.From], To: index[o.To], Diff: w.length(t, o.Difference), Variance: v, Label: i})
	}
	return n, index
}

// figure compares a number with a printed one; misprinted figures of the source
// must be wrong by our reckoning too.
func figure(t *testing.T, s *solution, of, text string, got float64) {
	if text == "" {
		return
	}
	printed, err := strconv.ParseFloat(text, 64)
	require.NoError(t, err)
	half := 0.5 * math.Pow10(-len(text[strings.IndexByte(text, '.')+1:]))
	assert.InDelta(t, printed, got, half*(1+1e-9), "%s, %s: to the printed digit", s.Weights, of)
	for i := range s.Misprints {
		if s.Misprints[i].Of == of {
			wrong, err := strconv.ParseFloat(s.Misprints[i].Printed, 64)
			require.NoError(t, err)
			assert.Greater(t, math.Abs(wrong-got), half, "%s: the source has %g", of, wrong)
			s.Misprints[i].Of = ""
		}
	}
}

// The published networks, which each file names, to the printed digit.
func TestPublishedNetworks(t *testing.T) {
	for _, name := range []string{"mahun-plain-means", "mahun-weighted-setups"} {
		w := readNetwork(t, name)
		require.Equal(t, []string{"A", "printed", "0.0005"}, []string{w.Source.Grade, w.Source.Answers, w.Within})
		for k := range w.Network.Solutions {
			s := &w.Network.Solutions[k]
			n, index := w.build(t, s.Weights)
			r, err := adjust.Adjust(n, adjust.Options{})
			require.NoError(t, err)
			assert.Equal(t, len(n.Observations)-2, r.DoF)
			for _, x := range s.Levels {
				p := index[x.Name]
				figure(t, s, "level "+x.Name, x.Level, r.Points[p].Level.Millimetres()/w.mm())
				sd, ok := r.SD(p)
				require.True(t, ok)
				figure(t, s, "sd "+x.Name, x.SD, sd/w.mm())
			}
			figure(t, s, "s0", s.S0, r.S0/w.mm())
			squares := map[string]float64{}
			for i, o := range r.Observations {
				at := " " + strconv.Itoa(i+1)
				v := o.V / w.mm()
				squares[n.Points[n.Observations[i].To].Name] += v * v
				if s.Residuals != nil {
					figure(t, s, "residual"+at, s.Residuals[i], v)
				}
				if s.Adjusted != nil {
					figure(t, s, "adjusted"+at, s.Adjusted[i], n.Observations[i].Diff.Millimetres()/w.mm()+v)
					figure(t, s, "adjustedSD"+at, s.AdjustedSD[i], r.S0*math.Sqrt(o.Variance)/w.mm())
				}
			}
			for _, q := range s.Squares {
				figure(t, s, "squares "+q.To, q.Sum, squares[q.To])
			}
			for _, m := range s.Misprints {
				assert.Empty(t, m.Of, "a misprint that no figure was compared with")
			}
		}
	}
}

// The transcription against the collection of check values it was made from,
// where that is at hand.
func TestTranscriptionOfNetworks(t *testing.T) {
	for _, name := range []string{"mahun-plain-means", "mahun-weighted-setups"} {
		text, err := os.ReadFile(fixture.Shared(t, "published", "levelling", "ls-"+name+".json"))
		require.NoError(t, err)
		var s struct {
			Inputs struct {
				Fixed map[string]float64
				Obs   [][]any
			}
			Corrections []json.RawMessage
		}
		require.NoError(t, json.Unmarshal(text, &s))
		w := readNetwork(t, name)
		number := func(text string) float64 {
			v, err := strconv.ParseFloat(text, 64)
			require.NoError(t, err)
			return v
		}
		require.Len(t, w.Network.Marks, len(s.Inputs.Fixed))
		for _, m := range w.Network.Marks {
			assert.Equal(t, s.Inputs.Fixed[m.Name], number(m.Level))
		}
		require.Len(t, w.Network.Observations, len(s.Inputs.Obs))
		for i, o := range w.Network.Observations {
			assert.Equal(t, s.Inputs.Obs[i], []any{o.From, o.To, number(o.Difference), float64(o.Setups)})
		}
		misprints := 0
		for _, x := range w.Network.Solutions {
			misprints += len(x.Misprints)
		}
		assert.Len(t, s.Corrections, misprints)
	}
}
