package convert

import (
	"math"

	"sightrail/convert/levels"
)

// Worth is what the levels of one source are worth: a level book, a point file
// or a laser set-up. Standard uncertainties, in millimetres.
type Worth struct {
	Book *levels.Worth // of a level book; nil for the others

	Own    float64 // of one point by itself
	Shared float64 // of what all its points have in common
	Slope  *Slope  // of a laser set-up
}

// Slope is how well the grades of a laser plane are known: an error that grows
// with the distance from the mark, and is the same for all points of the set-up.
type Slope struct {
	Along, Across float64 // mm per m
}

// Worthy is a level with what it is worth. At are the metres along the axis and
// to the right of it, from the mark of a laser set-up.
type Worthy struct {
	Of  *Worth
	Row int32 // of the book
	At  [2]float32
}

// Uncertainty is the standard uncertainty of the level, in mm; ok is false when
// it is not known.
func (w Worthy) Uncertainty() (mm float64, ok bool) {
	v, ok := w.variance()
	return math.Sqrt(max(0, v)), ok
}

func (w Worthy) variance() (float64, bool) {
	if w.Of == nil {
		return 0, false
	}
	if b := w.Of.Book; b != nil {
		_, ok := b.Known(int(w.Row))
		return b.Variance(int(w.Row)), ok
	}
	return w.Of.Own*w.Of.Own + w.covariance(w), true
}

// covariance is that of two levels of different readings.
func (w Worthy) covariance(o Worthy) float64 {
	switch {
	case w.Of == nil || o.Of == nil:
		return 0
	case w.Of.Book != nil && o.Of.Book != nil:
		return w.Of.Book.Covariance(o.Of.Book, int(w.Row), int(o.Row))
	case w.Of != o.Of:
		return 0
	}
	v := w.Of.Shared * w.Of.Shared
	if s := w.Of.Slope; s != nil {
		v += s.Along*s.Along*float64(w.At[0])*float64(o.At[0]) + s.Across*s.Across*float64(w.At[1])*float64(o.At[1])
	}
	return v
}

// UncertaintyTo is the standard uncertainty of the difference of two levels, in
// mm: what they have in common drops out.
func (w Worthy) UncertaintyTo(o Worthy) (mm float64, ok bool) {
	a, okA := w.variance()
	b, okB := o.variance()
	if !okA || !okB {
		return 0, false
	}
	return math.Sqrt(max(0, a+b-2*w.covariance(o))), true
}
