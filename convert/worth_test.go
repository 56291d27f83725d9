package convert

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

// Points of one file share what the file shares; those of two files nothing. A
// laser plane whose grade is a little off is further off with distance, on all
// its points together. JCGM 100:2008, 5.2; no published example.
func TestWorthOfPoints(t *testing.T) {
	file, other := &Worth{Own: 6, Shared: 8}, &Worth{Own: 3, Shared: 4}
	a, b, c := Worthy{Of: file}, Worthy{Of: file}, Worthy{Of: other}
	u, ok := a.Uncertainty()
	assert.True(t, ok)
	assert.InDelta(t, 10, u, 1e-12)
	u, ok = a.UncertaintyTo(b)
	assert.True(t, ok)
	assert.InDelta(t, 6*math.Sqrt2, u, 1e-12)
	u, _ = a.UncertaintyTo(c)
	assert.InDelta(t, math.Sqrt(100+25), u, 1e-12)
	_, ok = Worthy{}.Uncertainty()
	assert.False(t, ok)
	_, ok = a.UncertaintyTo(Worthy{})
	assert.False(t, ok)
}

func TestWorthOfLaserAgainstRepetition(t *testing.T) {
	const times = 10_000
	w := &Worth{Own: 1, Shared: 2, Slope: &Slope{Along: 0.05, Across: 0.08}}
	a, b := Worthy{Of: w, At: [2]float32{80, -5}}, Worthy{Of: w, At: [2]float32{20, 12}}
	rnd := rand.New(rand.NewPCG(1, 9))
	var one, both float64
	for range times {
		z, g, c := 2*rnd.NormFloat64(), 0.05*rnd.NormFloat64(), 0.08*rnd.NormFloat64()
		at := func(x Worthy) float64 { return z + g*float64(x.At[0]) + c*float64(x.At[1]) + rnd.NormFloat64() }
		x, y := at(a), at(b)
		one, both = one+x*x, both+(x-y)*(x-y)
	}
	u, _ := a.Uncertainty()
	assert.InEpsilon(t, u, math.Sqrt(one/times), 0.03)
	u, _ = a.UncertaintyTo(b)
	assert.InEpsilon(t, u, math.Sqrt(both/times), 0.03)
}
