package plane

import (
	"fmt"
	"math"
	"math/big"
	"strings"

	"sightrail/formats/unit"
)

// Angle is a bearing, clockwise from grid north, 0 to less than a full turn.
// The zero Angle was never read.
type Angle struct{ turn *big.Rat } // in turns

// Given reports whether the angle was read.
func (a Angle) Given() bool { return a.turn != nil }

// ParseBearing reads a grid bearing with its unit: "123.5 deg", "123°30'15\"",
// "123 d 30 m 15 s" or "137.2 gon". True and magnetic bearings are refused: what
// turns them into grid bearings is not in them.
func ParseBearing(text string) (Angle, error) {
	t := strings.ToLower(strings.TrimSpace(text))
	for _, w := range []string{"true", "mag"} {
		if strings.Contains(t, w) {
			return Angle{}, fmt.Errorf("%.60q is not a grid bearing; correct it by convergence and declination first, and write the grid bearing", text)
		}
	}
	bad := fmt.Errorf("%.60q is not a bearing; write it with its unit, such as \"123.5 deg\", \"123°30'15\\\"\" or \"137.2 gon\"", text)
	if number, ok := strings.CutSuffix(t, "gon"); ok {
		return angle(text, []string{number}, []int64{400}, bad)
	}
	if number, ok := strings.CutSuffix(t, "deg"); ok && !strings.ContainsAny(number, "°ºd'’m\"”s") {
		return angle(text, []string{number}, []int64{360}, bad)
	}
	t = strings.NewReplacer("degrees", "d", "deg", "d", "°", "d", "º", "d", "′", "m", "'", "m", "’", "m", "″", "s", "\"", "s", "”", "s", "mins", "m", "min", "m", "secs", "s", "sec", "s").Replace(t)
	var parts []string
	var per []int64
	for i, mark := range []string{"d", "m", "s"} {
		number, rest, ok := strings.Cut(t, mark)
		if !ok {
			break
		}
		parts, per, t = append(parts, number), append(per, []int64{360, 360 * 60, 360 * 3600}[i]), rest
	}
	if strings.TrimSpace(t) != "" {
		return Angle{}, bad
	}
	return angle(text, parts, per, bad)
}

// angle adds parts up; only the last may have decimals, and minutes and seconds
// are less than 60.
func angle(text string, parts []string, per []int64, bad error) (Angle, error) {
	sum := new(big.Rat)
	for i, p := range parts {
		p = strings.TrimSpace(p)
		d, exact, err := unit.ParseDecimal(p)
		if err != nil || !exact || d.Coef < 0 || strings.HasPrefix(p, "-") || i < len(parts)-1 && d.Places > 0 {
			return Angle{}, bad
		}
		x := new(big.Rat).SetFrac(big.NewInt(d.Coef), new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(d.Places)), nil))
		if i > 0 && x.Cmp(big.NewRat(60, 1)) >= 0 {
			return Angle{}, fmt.Errorf("%.60q has 60 or more minutes or seconds; write both below 60", text)
		}
		sum.Add(sum, x.Quo(x, new(big.Rat).SetInt64(per[i])))
	}
	switch {
	case len(parts) == 0:
		return Angle{}, bad
	case sum.Cmp(big.NewRat(1, 1)) == 0:
		sum = new(big.Rat)
	case sum.Cmp(big.NewRat(1, 1)) > 0:
		return Angle{}, fmt.Errorf("%.60q is more than a full turn; a bearing is between 0 and 360 degrees, or 0 and 400 gon", text)
	}
	return Angle{sum}, nil
}

// sincos is exact at the quarters.
func (a Angle) sincos() (sin, cos float64) {
	if a.turn == nil {
		return 0, 1
	}
	quarters := new(big.Rat).Mul(a.turn, big.NewRat(4, 1))
	whole := new(big.Int).Quo(quarters.Num(), quarters.Denom())
	rest, _ := quarters.Sub(quarters, new(big.Rat).SetInt(whole)).Float64()
	s, c := math.Sincos(rest * math.Pi / 2)
	if rest == 0 {
		s, c = 0, 1
	}
	switch whole.Int64() % 4 {
	case 1:
		s, c = c, -s
	case 2:
		s, c = -s, -c
	case 3:
		s, c = -c, s
	}
	return s, c
}

// Degrees is the angle in degrees, for print.
func (a Angle) Degrees() float64 {
	if a.turn == nil {
		return 0
	}
	d, _ := new(big.Rat).Mul(a.turn, big.NewRat(360, 1)).Float64()
	return d
}

// Radians is the angle in radians.
func (a Angle) Radians() float64 { return a.Degrees() * math.Pi / 180 }
