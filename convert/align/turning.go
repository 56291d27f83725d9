package align

import (
	"math/big"

	"sightrail/formats/unit"
)

// Turning is a high or a low point of a profile: where the grade changes its sign.
type Turning struct {
	From, To unit.Length // chainages; they differ where the profile runs level there
	Level    unit.Length
	High     bool // else low
}

// stretch of a profile that rises, falls or runs level throughout.
type stretch struct {
	from, to place
	sign     int
}

// place is a chainage and the level there, exact as far as they are.
type place struct{ x, z fraction }

// Turnings returns the high and low points between the ends of the profile, in
// order. The ends themselves are none. Chainage and level are rounded once to one
// count.
func (p *Profile) Turnings() []Turning {
	var out []Turning
	was, flat := 0, place{}
	for _, s := range p.stretches() {
		switch {
		case s.sign == 0:
			if was != 0 && flat.x.num == nil {
				flat = s.from
			}
			continue
		case was != 0 && s.sign != was:
			from := s.from
			if flat.x.num != nil {
				from = flat
			}
			out = append(out, Turning{From: rounded(from.x), To: rounded(s.from.x), Level: rounded(s.from.z), High: was > 0})
		}
		was, flat = s.sign, place{}
	}
	return out
}

// Extremes returns the highest and the lowest point between two chainages, ends
// included; of several, the first. Chainages outside of the profile are errors.
func (p *Profile) Extremes(from, to unit.Length) (high, low Turning, err error) {
	for i, at := range []unit.Length{from, to} {
		z, err := p.Level(at)
		if err != nil {
			return high, low, err
		}
		t := Turning{From: at, To: at, Level: z}
		if i == 0 || z > high.Level {
			high = t
		}
		if i == 0 || z < low.Level {
			low = t
		}
	}
	for _, t := range p.Turnings() {
		if t.To < from || t.From > to {
			continue
		}
		t.From, t.To = max(t.From, from), min(t.To, to)
		if t.High && (t.Level > high.Level || t.Level == high.Level && t.From < high.From) {
			high = t
		}
		if !t.High && (t.Level < low.Level || t.Level == low.Level && t.From < low.From) {
			low = t
		}
	}
	high.High, low.High = true, false
	return high, low, nil
}

func rounded(f fraction) unit.Length {
	l, err := f.round()
	if err != nil {
		return unit.MaxLength
	}
	return l
}

// stretches cuts the profile where its grade changes its sign, and at the ends of
// tangents and curves.
func (p *Profile) stretches() (out []stretch) {
	at := place{whole(p.Start()), whole(p.points[0].Level)}
	add := func(to place, sign int) {
		if to.x.compare(at.x) > 0 {
			out, at = append(out, stretch{at, to, sign}), to
		}
	}
	two := big.NewInt(2)
	for i := 1; i < len(p.points); i++ {
		// the tangent up to the curve of PVI i, and that curve
		c := &p.curves[i]
		start := fraction{big.NewInt(int64(c.from)), two}
		g0 := p.tangent[i-1]
		add(place{start, p.onTangent(i-1, start)}, g0.sign())
		if c.kind == 0 {
			continue
		}
		end := fraction{big.NewInt(int64(c.to)), two}
		g1 := p.tangent[i]
		if top, ok := p.still(i); ok {
			add(top, g0.sign())
		}
		// after the still point, or all along when there is none
		sign := g1.sign()
		if sign == 0 {
			sign = g0.sign()
		}
		add(place{end, p.onTangent(i, end)}, sign)
	}
	return out
}

func (p *Profile) onTangent(i int, x fraction) fraction {
	v := &p.points[i]
	return whole(v.Level).plus(p.tangent[i].times(x.minus(whole(v.Chainage))))
}

// still returns where the curve of a PVI runs level, when that is inside of it.
func (p *Profile) still(i int) (place, bool) {
	v, c := &p.points[i], &p.curves[i]
	g0, g1 := p.tangent[i-1], p.tangent[i]
	if g0.sign()*g1.sign() >= 0 {
		return place{}, false
	}
	if c.kind == Circular {
		x := c.circle.start - c.circle.sense*c.circle.radius*c.circle.sin
		z, _ := c.circle.at(x)
		at, _ := v.Chainage.Add(inMetres(x))
		return place{whole(at), whole(v.Level).plus(whole(inMetres(z)))}, true
	}
	// the grade at the PVI is g0 + change·far/(near+far) with near = a
	middle := g0.plus(c.change.times(ratio(c.b, c.a+c.b)))
	side, end, near, far := i-1, c.from, c.a, c.b
	if middle.sign()*g0.sign() > 0 {
		side, end, near, far = i, c.to, c.b, c.a
	}
	g := p.tangent[side]
	// g + change·far·d/(near·(near+far)) = 0, with d the doubled distance from the
	// end, + up-chainage
	d := whole(0).minus(g).times(whole(near)).times(whole(near + far)).over(c.change.times(whole(far)))
	x := whole(end).plus(d).over(whole(2))
	// and the level there is that of the end plus half of grade × distance
	start := fraction{big.NewInt(int64(end)), big.NewInt(2)}
	z := p.onTangent(side, start).plus(g.times(d).over(whole(4)))
	return place{x, z}, true
}
