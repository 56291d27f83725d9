package qa

import (
	"cmp"
	"math"
	"math/big"
	"math/bits"
	"slices"

	"sightrail/formats/unit"
	"sightrail/qa/limits"
)

// tally adds up the rows of one check in whole numbers only, so that the order
// of adding never shows: counts, sum and sum of squares in 128 bits, smallest,
// largest, and bins of a millimetre.
type tally struct {
	counts   Counts
	n        int
	within   int
	sum, sq  [2]uint64 // high, low; sum in two's complement
	min, max unit.Length
	bins     map[int]int
	near     [2*nearBins + 1]int // bins about 0, which most values fall into
	high     int
	low      int
	values   []unit.Length // the first MaxValues
	along    streaks       // the same values in their places along the line
	keep     bool          // for a part of a run: raw and order, in the order of the file
	raw      []unit.Length
	order    []PartSpot
}

// nearBins is how far, in mm, the bins about 0 reach.
const nearBins = 127

// binLimit is the last bin of a histogram, in mm; what is beyond counts there.
const binLimit = 100_000

func (t *tally) add(r *Row) {
	switch r.Verdict {
	case limits.Pass:
		t.counts.Assessed++
		t.counts.Pass++
	case limits.Fail:
		t.counts.Assessed++
		t.counts.Fail++
	default:
		t.counts.NotAssessed++
		return
	}
	if !r.Compared || r.Derived {
		return
	}
	d := r.Diff
	if t.n == 0 {
		t.min, t.max, t.bins = d, d, map[int]int{}
	}
	t.n++
	switch {
	case r.Verdict == limits.Pass:
		t.within++
	case r.Beyond > 0:
		t.high++
	case r.Beyond < 0:
		t.low++
	}
	if t.n <= MaxValues {
		t.values = append(t.values, d)
		t.along.add(r)
		if t.keep {
			t.remember(r)
		}
	}
	t.min, t.max = min(t.min, d), max(t.max, d)
	var carry uint64
	t.sum[1], carry = bits.Add64(t.sum[1], uint64(d), 0)
	t.sum[0], _ = bits.Add64(t.sum[0], uint64(d>>63), carry)
	hi, lo := bits.Mul64(uint64(d.Abs()), uint64(d.Abs()))
	t.sq[1], carry = bits.Add64(t.sq[1], lo, 0)
	t.sq[0], _ = bits.Add64(t.sq[0], hi, carry)
	mm := int(d / unit.Millimetre)
	if rest := d % unit.Millimetre; rest.Abs() >= unit.Millimetre-rest.Abs() {
		mm += rest.Sign()
	}
	if k := mm + nearBins; k >= 0 && k < len(t.near) {
		t.near[k]++
	} else {
		t.bins[min(max(mm, -binLimit), binLimit)]++
	}
}

// stats works the statistics out of the sums: mean, standard deviation with
// n − 1, RMS about zero, all in millimetres; exact to the rounding of float64.
func (t *tally) stats() Stats {
	s := Stats{N: t.n}
	if t.n == 0 {
		return s
	}
	n := big.NewInt(int64(t.n))
	sum := signed128(t.sum)
	sq := new(big.Int).Or(new(big.Int).Lsh(new(big.Int).SetUint64(t.sq[0]), 64), new(big.Int).SetUint64(t.sq[1]))
	mm := new(big.Rat).SetInt64(int64(unit.Millimetre))
	mm2 := new(big.Rat).Mul(mm, mm)
	float := func(num, den *big.Int, per *big.Rat) float64 {
		r := new(big.Rat).SetFrac(num, den)
		f, _ := r.Quo(r, per).Float64()
		return f
	}
	s.MeanMm = float(sum, n, mm)
	s.RmsMm = math.Sqrt(float(sq, n, mm2))
	if t.n > 1 {
		// n Σx² − (Σx)² over n (n − 1)
		num := new(big.Int).Mul(n, sq)
		num.Sub(num, new(big.Int).Mul(sum, sum))
		den := new(big.Int).Mul(n, big.NewInt(int64(t.n-1)))
		s.SdMm = math.Sqrt(float(num, den, mm2))
	}
	s.MinMm, s.MaxMm = t.min.Millimetres(), t.max.Millimetres()
	s.Within = t.within
	s.WithinPercent = 100 * float64(t.within) / float64(t.n)
	s.High, s.Low = t.high, t.low
	t.quantiles(&s)
	return s
}

// quantiles works out the figures that need the values themselves: quantiles and
// the largest run of failures. Of more values than are kept, quantiles are those
// of the bins, and the run is not known.
func (t *tally) quantiles(s *Stats) {
	s.RunOfFailures = -1
	if s.Coarse = t.n > MaxValues; s.Coarse {
		bins := t.histogram()
		for _, p := range QuantilePercents {
			s.Quantiles = append(s.Quantiles, float64(binAt(bins, t.n*p/100)))
		}
		return
	}
	s.RunOfFailures, s.RunOrder = t.along.longest()
	slices.Sort(t.values)
	for _, p := range QuantilePercents {
		q, err := limits.Quantile(t.values, unit.Decimal{Coef: int64(p)})
		if err != nil {
			panic(err) // values are there and in order, and the percentages are constants
		}
		s.Quantiles = append(s.Quantiles, q.Millimetres())
	}
}

// binAt is the millimetre of the value number k in ascending order, from 0.
func binAt(bins []Bin, k int) int {
	for _, b := range bins {
		if k -= b.N; k < 0 {
			return b.Mm
		}
	}
	return bins[len(bins)-1].Mm
}

func signed128(v [2]uint64) *big.Int {
	neg := int64(v[0]) < 0
	hi, lo := v[0], v[1]
	if neg {
		var b uint64
		lo, b = bits.Sub64(0, lo, 0)
		hi, _ = bits.Sub64(0, hi, b)
	}
	x := new(big.Int).Or(new(big.Int).Lsh(new(big.Int).SetUint64(hi), 64), new(big.Int).SetUint64(lo))
	if neg {
		x.Neg(x)
	}
	return x
}

func (t *tally) histogram() []Bin {
	bins := make([]Bin, 0, len(t.bins))
	for mm, n := range t.bins {
		bins = append(bins, Bin{mm, n})
	}
	for k, n := range t.near {
		if n > 0 {
			bins = append(bins, Bin{k - nearBins, n})
		}
	}
	slices.SortFunc(bins, func(a, b Bin) int { return cmp.Compare(a.Mm, b.Mm) })
	return bins
}
