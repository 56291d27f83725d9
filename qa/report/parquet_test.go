package report

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"math"
	"testing"

	"github.com/parquet-go/parquet-go"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/convert"
)

// Every row is there with the values of results.csv; a place is a point in WKB; what is
// missing is null, and what stands in the metadata says which coordinates they are.
func TestGeoParquet(t *testing.T) {
	res := sampleResult(t)
	list := res.Rows
	var err error
	res.Earth, err = convert.NewEarth(&res.Frame, "")
	require.NoError(t, err)
	var file bytes.Buffer
	w, err := GeoParquet.Start(&file, res)
	require.NoError(t, err)
	require.NoError(t, w.Rows(list[:3]))
	require.NoError(t, w.Rows(nil))
	require.NoError(t, w.Rows(list[3:]))
	require.NoError(t, w.Close(res))
	f, err := parquet.OpenFile(bytes.NewReader(file.Bytes()), int64(file.Len()))
	require.NoError(t, err)
	at := map[string]int{}
	for i, c := range f.Root().Columns() {
		at[c.Name()] = i
	}
	require.EqualValues(t, len(list), f.NumRows())
	require.Len(t, at, len(columns)-2+1, "all columns but those that must be asked for, and the geometry")
	geo, ok := f.Lookup("geo")
	require.True(t, ok)
	var meta struct {
		Version string
		Columns map[string]map[string]any
	}
	require.NoError(t, json.Unmarshal([]byte(geo), &meta))
	assert.Equal(t, "1.1.0", meta.Version)
	assert.Equal(t, "WKB", meta.Columns[geometryColumn]["encoding"])
	rows := f.RowGroups()[0].Rows()
	defer rows.Close()
	got := make([]parquet.Row, len(list))
	n, _ := rows.ReadRows(got)
	require.Equal(t, len(list), n)
	tell := newTeller(res)
	for i := range list {
		r := &list[i]
		for k := range columns {
			c := &columns[k]
			if c.asked {
				continue
			}
			v := got[i][at[c.name]]
			switch {
			case c.number != nil:
				text := c.number(tell, nil, r)
				if len(text) == 0 {
					require.True(t, v.IsNull(), c.name)
					continue
				}
				var want float64
				require.NoError(t, json.Unmarshal(text, &want))
				require.Equal(t, want, v.Double(), c.name)
			default:
				want := ""
				if c.text != nil {
					want = c.text(tell, r)
				} else {
					want = c.words(tell, r)
				}
				require.Equal(t, want == "", v.IsNull(), c.name)
				if want != "" {
					require.Equal(t, want, string(v.ByteArray()), c.name)
				}
			}
		}
		g := got[i][at[geometryColumn]]
		require.Equal(t, !r.Shot.Placed, g.IsNull())
		if !g.IsNull() {
			b := g.ByteArray()
			require.Len(t, b, 21)
			require.Equal(t, []byte{1, 1, 0, 0, 0}, b[:5])
			x := math.Float64frombits(binary.LittleEndian.Uint64(b[5:]))
			lon, lat, ok, _ := res.Earth.Place(&res.Frame, r.Shot.Place)
			require.True(t, ok)
			require.Equal(t, lon, x)
			require.Equal(t, lat, math.Float64frombits(binary.LittleEndian.Uint64(b[13:])))
		}
	}
}
