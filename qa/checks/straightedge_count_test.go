package checks

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats/unit"
)

// The worst stretch against all stretches, in steps of the places that shots can have:
// a stretch holds an irregularity when one shot of it lies in the stretch.
func TestWorstStretchAgainstAll(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		steps := rapid.SliceOfN(rapid.Int64Range(1, 3), 2, 25).Draw(rt, "steps")
		p := &profile{x: []unit.Length{0}}
		for _, s := range steps {
			p.x = append(p.x, p.x[len(p.x)-1]+unit.Length(s))
		}
		var list []irregularity
		for k := 1; k+1 < len(p.x); k++ {
			if !rapid.Bool().Draw(rt, "over") {
				continue
			}
			if n := len(list) - 1; n >= 0 && list[n].to == k-1 {
				list[n].to = k
			} else {
				list = append(list, irregularity{from: k, to: k, deepest: k, sure: true})
			}
		}
		per := unit.Length(rapid.Int64Range(1, 30).Draw(rt, "per"))
		want := 0
		for from := unit.Length(0); from <= p.x[len(p.x)-1]; from++ {
			n := 0
			for _, x := range list {
				for k := x.from; k <= x.to; k++ {
					if p.x[k] >= from && p.x[k] <= from+per {
						n++
						break
					}
				}
			}
			want = max(want, n)
		}
		n, at, over := p.worst(list, per, 1)
		require.Equal(rt, want, n)
		require.Equal(rt, want > 1, len(over) > 0)
		if n > 0 {
			require.Less(rt, at, len(list))
		}
	})
}
