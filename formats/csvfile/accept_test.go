package csvfile

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats"
)

// A cell that is no plain number is read as the job accepts it, and only as one of
// the numbers that were proposed; that it was is always said.
func TestAccept(t *testing.T) {
	const text = "Point,Easting (m),Northing (m),Level (m)\na,1,2,1.34O\nb,1,2,1.342 m\nc,1,2,\"1,342\"\nd,1,2,1.350\n"
	read := func(accept map[string]string) (problems, notes []string, levels []string) {
		d, err := Decode(strings.NewReader(text), "p.csv", formats.Options{Content: formats.PointContent, Accept: accept})
		require.NoError(t, err)
		for _, p := range d.Problems {
			problems = append(problems, p.String())
		}
		for _, p := range d.Notes {
			notes = append(notes, p.String())
		}
		for _, p := range d.Points {
			if p.Levelled {
				levels = append(levels, p.ID+" "+p.Z.String())
			}
		}
		return problems, notes, levels
	}
	problems, notes, levels := read(nil)
	assert.Len(t, problems, 3)
	assert.Empty(t, notes)
	assert.Equal(t, []string{"d 1.350"}, levels)

	problems, notes, levels = read(map[string]string{"2:4": "1.340", "3:4": "1.342", "4:4": "1342"})
	assert.Empty(t, problems)
	assert.Equal(t, []string{`p.csv:2:4: level: "1.34O" is read as 1.340, as the job accepts`, `p.csv:3:4: level: "1.342 m" is read as 1.342, as the job accepts`,
		`p.csv:4:4: level: "1,342" is read as 1342, as the job accepts`}, notes)
	assert.Equal(t, []string{"a 1.340", "b 1.342", "c 1342", "d 1.350"}, levels)

	for accept, want := range map[[2]string]string{
		{"2:4", "1.341"}: `p.csv:2:4: level: the job accepts "1.341" for this cell, which holds "1.34O"; that is not what it may have been: correct the file, or the job`,
		{"5:4", "1.360"}: `p.csv:5:4: level: the job accepts "1.360" for this cell, which holds "1.350"; that is not what it may have been: correct the file, or the job`,
		{"9:4", "1.360"}: `p.csv: accept: the job accepts "1.360" for the cell 9:4, and no number stands there; leave it out of "accept", or correct the cell`,
	} {
		problems, _, _ := read(map[string]string{accept[0]: accept[1]})
		assert.Contains(t, problems, want)
	}
}
