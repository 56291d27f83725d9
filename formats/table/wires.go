package table

import (
	"sightrail/formats"
	"sightrail/formats/unit"
)

// wires looks whether the three wires of a sight can be used, and compares the
// mean that was booked with them.
func (r *rowReader) wires(field string, mid formats.Reading, w *formats.Wires, inverted bool) {
	outer := w.Upper
	if !outer.Set {
		outer = w.Lower
	}
	at := func(x formats.Reading) formats.Pos { return r.b.at.At(r.row, x.Col) }
	switch {
	case !outer.Set && !w.Mean.Set:
		return
	case !mid.Set && outer.Set && r.bad == "":
		r.refuse(outer.Col, field, "an outer wire is booked and the middle wire is missing; write the middle wire, or clear the outer ones")
	case !mid.Set && r.bad == "":
		r.refuse(w.Mean.Col, field, "a mean is booked and the reading itself is missing; write the wires it was worked out from")
	case !mid.Set:
		return // said already
	case w.Upper.Set != w.Lower.Set && r.bad == "":
		r.b.note(at(outer), field, "one outer wire is booked without the other; the middle wire alone is used")
	}
	if !w.Mean.Set || !mid.Set || r.bad != "" {
		return
	}
	if !w.Upper.Set || !w.Lower.Set {
		r.b.note(at(w.Mean), field, "a mean is booked and not all three wires are; it is not compared, and the reading %s is used", mid.Value)
		return
	}
	var sum unit.Length
	for _, x := range []formats.Reading{w.Upper, mid, w.Lower} {
		l, err := scaled(x, inverted)
		if err == nil {
			sum, err = sum.Add(l)
		}
		if err != nil {
			return // the reduction says that it is too large
		}
	}
	mean, err := scaled(w.Mean, inverted)
	if err != nil || mean.Abs() > unit.MaxLength/4 {
		return
	}
	// within half of the last place that was booked
	half, err := unit.Decimal{Coef: 5, Places: w.Mean.Value.Places + 1}.Length(unit.M)
	if err != nil || (3*mean-sum).Abs() <= 3*half {
		return
	}
	r.b.note(at(w.Mean), field, "the mean is booked as %s, and the three wires give %s; the wires are used", w.Mean.Value, unit.MulDiv(sum, 1, 3).Fixed(unit.M, int(w.Mean.Value.Places)+1))
}
