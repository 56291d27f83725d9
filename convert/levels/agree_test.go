package levels

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// The comparison of the two reductions sees a level, a row or a count that is
// not the same; a fault of either would leave it unnoticed otherwise.
func TestAgree(t *testing.T) {
	c := &chain{setups: []setup{
		{at: 0, bs: shot{row: 0, reading: 1500}, read: []shot{{row: 1, reading: 1200}, {row: 2, reading: -300}}, fs: &shot{row: 3, reading: 1000}},
		{at: 3, bs: shot{row: 3, reading: 900}, fs: &shot{row: 4, reading: 1100}},
	}}
	heights, collimation, err := byCollimation(c, nil, nil)
	assert.NoError(t, err)
	changes := byRiseAndFall(c, nil)
	assert.Equal(t, []change{{1, 300}, {2, 1500}, {3, -1300}, {4, -200}}, changes)
	assert.EqualValues(t, 1500, collimation[0])
	assert.EqualValues(t, 1400, collimation[1])
	assert.True(t, agree(heights, changes))
	heights[2].level++
	assert.False(t, agree(heights, changes))
	heights[2].level--
	changes[1].row++
	assert.False(t, agree(heights, changes))
	assert.False(t, agree(heights, changes[1:]))
}
