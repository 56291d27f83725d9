package csvfile

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// Readings on a laser plane: names with a reading, or with the offset of a
// machine receiver, and no level. They are written as they were read.
func TestLaserReadings(t *testing.T) {
	const text = "Point,Easting (m),Northing (m),Reading (m),Receiver (m),Set-up\na,1,2,1.340,,day 1\nb,,,(0.5),,\nc,,,,-0.010,day 2\nd,,,,,\n"
	for _, content := range []formats.Content{formats.AnyContent, formats.PointContent} {
		d, err := Decode(strings.NewReader(text), "r.csv", formats.Options{Content: content})
		require.NoError(t, err)
		require.Empty(t, d.Problems)
		require.Len(t, d.Points, 4)
		assert.Equal(t, "1.340", d.Points[0].Reading.Value.String())
		assert.Equal(t, 4, d.Points[0].Col, "the place of the reading")
		assert.Equal(t, "day 1", d.Points[0].Setup)
		assert.False(t, d.Points[0].Levelled)
		assert.True(t, d.Points[1].Reading.Bracket, "an inverted staff")
		assert.Equal(t, "-0.010", d.Points[2].Receiver.Value.String())
		assert.False(t, d.Points[3].Reading.Set)
		assert.Equal(t, unit.M, d.Units.Linear)
		var again bytes.Buffer
		require.NoError(t, Encode(&again, d, formats.EncodeOptions{}))
		back, err := Decode(&again, "r.csv", formats.Options{Content: content})
		require.NoError(t, err)
		assert.Equal(t, d.Points[0].Reading.Value, back.Points[0].Reading.Value)
		assert.Equal(t, d.Points[1].Reading, formats.Reading{Set: true, Bracket: true, Value: back.Points[1].Reading.Value, Col: d.Points[1].Reading.Col})
		assert.Equal(t, d.Points[2].Receiver.Value, back.Points[2].Receiver.Value)
	}
	d, err := Decode(strings.NewReader("Point,Reading (m)\na,1.3O\n"), "r.csv", formats.Options{Content: formats.PointContent})
	require.NoError(t, err)
	require.Len(t, d.Problems, 1)
	assert.Equal(t, "r.csv:2:2: reading: \"1.3O\" holds a letter that looks like a digit; it may be 1.30: correct the cell", d.Problems[0].String())
}
