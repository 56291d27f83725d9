package csvfile

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// gatherer takes pieces as well as batches, and puts them together.
type gatherer struct {
	points        []formats.Point
	begun, ended  int
	pieces        int // points that came in pieces
	refuse, spoil int // the number of the piece that is refused, or goes wrong; 0 = none
}

var errRefused, errSpoilt = errors.New("refused"), errors.New("spoilt")

type gathered struct {
	g      *gatherer
	points []formats.Point
	done   chan error
}

func (g *gatherer) options(opt formats.Options) formats.Options {
	opt.Points = func(_ formats.Pos, batch []formats.Point) error {
		g.points = append(g.points, batch...)
		return nil
	}
	opt.Plain = func(_ formats.Pos, rows formats.PlainRows) (formats.PlainWork, error) {
		g.begun++
		if g.begun == g.refuse {
			g.begun--
			return nil, errRefused
		}
		w := &gathered{g: g, done: make(chan error, 1)}
		var err error
		if g.begun == g.spoil {
			err = errSpoilt
		}
		go func() {
			var some [3]formats.PlainPoint
			for row := rows.First(); ; {
				n := rows.Take(some[:])
				for _, p := range some[:n] {
					w.points = append(w.points, formats.Point{Row: row, Col: rows.Col(), ID: p.ID, Code: p.Code, E: p.E, N: p.N, Z: p.Z, Placed: true, Levelled: true})
					row++
				}
				if n < len(some) {
					break
				}
			}
			w.done <- err
		}()
		return w, nil
	}
	return opt
}

func (w *gathered) Wait() error { return <-w.done }

func (w *gathered) Commit() error {
	w.g.ended++
	w.g.pieces += len(w.points)
	w.g.points = append(w.g.points, w.points...)
	return nil
}

func (w *gathered) Drop() { w.g.ended++ }

// Read in pieces of any size, beside each other, a file says what it says when it is read
// line by line: points, places, problems and notes.
func TestPiecesAreTheSame(t *testing.T) {
	inPieces := 0
	odd := []string{"", "# a remark, 1", "b,1,2", "c,1,2,", "\"d,1\",1,2,3,X", "\"e", "f,1,2,3,X,more", "g h,1,2,3,X", "h,1,2,-9999,X", "i,1,2,0,X", "Point,Easting,Northing,Level,Code", "#j,1,2,3,X", "k,1O,2,3,X", "l,1,2,3,X\rm,4,5,6,Y", "n\x00,1,2,3,X", "\xff,1,2,3,X", "o,1,2,3,X\r", strings.Repeat("q", 90) + ",1,2,3,X"}
	rapid.Check(t, func(t *rapid.T) {
		var b strings.Builder
		b.WriteString("Point,Easting,Northing,Level,Code\n")
		rare := rapid.SampledFrom([]int{3, 12, 60}).Draw(t, "rare")
		end := rapid.SampledFrom([]string{"\n", "\r\n"}).Draw(t, "end")
		for i := range rapid.IntRange(0, 150).Draw(t, "rows") {
			if rapid.IntRange(0, rare).Draw(t, "odd") == 0 {
				b.WriteString(rapid.SampledFrom(odd).Draw(t, "what") + end)
				continue
			}
			fmt.Fprintf(&b, "p%d,%d.5,%d,-%d.25,X%s", i, i, i, i, end)
		}
		text := strings.TrimSuffix(b.String(), rapid.SampledFrom([]string{"", "\n"}).Draw(t, "last"))
		opt := formats.Options{Content: formats.PointContent, Unit: unit.M}
		size := rapid.IntRange(20, 900).Draw(t, "size")
		var strict, quick gatherer
		want, err1 := decode(strings.NewReader(text), "p.csv", strict.options(opt), true, blockBytes)
		got, err2 := decode(strings.NewReader(text), "p.csv", quick.options(opt), false, size)
		require.NoError(t, err1)
		require.NoError(t, err2)
		require.Equal(t, want, got, text)
		require.Equal(t, strict.points, quick.points, text)
		require.Zero(t, strict.begun)
		require.Equal(t, quick.begun, quick.ended)
		inPieces += quick.pieces
	})
	require.Greater(t, inPieces, 50, "hardly anything was read in pieces")
}

// Where taking a piece fails, reading ends with that, and every piece that was begun is
// committed or dropped.
func TestPieceThatFails(t *testing.T) {
	text := "Point,Easting,Northing,Level\n" + strings.Repeat("a,1,2,3\n", 200)
	for k := 1; k < 6; k++ {
		for _, g := range []*gatherer{{refuse: k}, {spoil: k}} {
			_, err := decode(strings.NewReader(text), "p.csv", g.options(formats.Options{Content: formats.PointContent, Unit: unit.M}), false, 100)
			if g.refuse > 0 {
				require.ErrorIs(t, err, errRefused)
			} else {
				require.ErrorIs(t, err, errSpoilt)
			}
			require.Equal(t, g.begun, g.ended)
			require.Less(t, g.pieces, 200)
		}
	}
}

// Of a file in which rows that are not plain keep coming, few pieces are begun.
func TestPiecesHoldOff(t *testing.T) {
	var b strings.Builder
	b.WriteString("Point,Easting,Northing,Level\n")
	for range 20_000 {
		b.WriteString("a,1,2,3\nb c,1,2,3\n")
	}
	var g gatherer
	d, err := decode(strings.NewReader(b.String()), "p.csv", g.options(formats.Options{Content: formats.PointContent, Unit: unit.M}), false, 200)
	require.NoError(t, err)
	require.Equal(t, 40_000, d.PointCount)
	require.Len(t, g.points, 40_000)
	require.Less(t, g.begun, 60)
}
