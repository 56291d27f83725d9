package csvfile

import (
	"encoding/csv"
	"fmt"
	"io"
	"runtime"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// read returns all lines, cut from blocks of size bytes at first.
func readLines(t require.TestingT, r io.Reader, size int) []string {
	l := newLines(r, false, size)
	var out []string
	for {
		line, row, ok, err := l.next()
		require.NoError(t, err)
		if !ok {
			return out
		}
		out = append(out, line)
		require.Equal(t, len(out), row)
	}
}

// Any mixture of line ends, any size of block: the same lines.
func TestLinesAtAnyBlockSize(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var text strings.Builder
		var want []string
		lone := false
		for range rapid.IntRange(0, 30).Draw(t, "lines") {
			line := rapid.StringMatching(`[a-c,]{0,9}`).Draw(t, "line")
			if lone && line == "" {
				line = "x" // CR and LF around nothing would be one line end
			}
			end := rapid.SampledFrom([]string{"\n", "\r\n", "\r"}).Draw(t, "end")
			lone = end == "\r"
			want = append(want, line)
			text.WriteString(line + end)
		}
		if last := rapid.StringMatching(`[a-c]{0,5}`).Draw(t, "last"); last != "" {
			want = append(want, last)
			text.WriteString(last + rapid.SampledFrom([]string{"", "\x1a"}).Draw(t, "ctrl-z"))
		}
		size := rapid.IntRange(1, 40).Draw(t, "size")
		require.Equal(t, want, readLines(t, strings.NewReader(text.String()), size))
		require.Equal(t, want, readLines(t, iotest.OneByteReader(strings.NewReader(text.String())), size))
	})
}

func TestLinesGivenBack(t *testing.T) {
	l := newLines(strings.NewReader("a\nb\nc\nd\n"), false, blockBytes)
	next := func() string { line, row, _, _ := l.next(); return fmt.Sprint(line, row) }
	assert.Equal(t, "a1 b2 c3", strings.Join([]string{next(), next(), next()}, " "))
	l.push([]string{"b", "c"})
	assert.Equal(t, "b2", next())
	l.push([]string{"b"})
	assert.Equal(t, "b2 c3 d4", strings.Join([]string{next(), next(), next()}, " "))
}

func TestReadErrorsArePassedOn(t *testing.T) {
	_, err := Decode(io.MultiReader(strings.NewReader(pointHead), iotest.ErrReader(io.ErrClosedPipe)), "t.csv", formats.Options{})
	assert.ErrorIs(t, err, io.ErrClosedPipe)
	stop := fmt.Errorf("enough")
	_, err = Decode(strings.NewReader(pointHead+"a,1,2,3\n"), "t.csv", formats.Options{Points: func(formats.Pos, []formats.Point) error { return stop }})
	assert.ErrorIs(t, err, stop)
}

// The own splitter cuts as encoding/csv does, and objects where it objects.
func TestSplitterAgainstTheStandardLibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		delim := rapid.SampledFrom([]rune{',', ';', '\t', '|'}).Draw(t, "delimiter")
		line := rapid.StringMatching(`[a"`+regexClass(delim)+`]{1,14}`).Draw(t, "line")
		r := csv.NewReader(strings.NewReader(line))
		r.Comma = delim
		want, err := r.Read()
		s := splitter{delim: byte(delim)}
		cells, bad := s.split(line)
		if bare := strings.Contains(fmt.Sprint(err), "bare"); bare && bad.col == 0 {
			return // a quote inside an unquoted text is a character like others here: 5" pipe
		}
		require.Equal(t, err != nil, bad.col > 0, "%q %v %v", line, err, bad)
		if err != nil {
			return
		}
		var got []string
		for _, c := range cells {
			got = append(got, c.Text)
		}
		require.Equal(t, want, got)
	})
}

func regexClass(r rune) string {
	if r == '\t' {
		return `\t`
	}
	return `\` + string(r)
}

// Every line below the heading is a record, whatever stands in it.
func TestEveryLineIsARecord(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lines := rapid.SliceOfN(rapid.StringMatching(`[a1".,;'=()é-]{0,16}`), 1, 40).Draw(t, "lines")
		open := strings.Count(strings.Join(lines, "\n"), "\"") > 0
		text := pointHead + strings.Join(lines, "\n") + "\n"
		d, err := Decode(strings.NewReader(text), "t.csv", formats.Options{Delimiter: ',', Unit: unit.M})
		require.NoError(t, err)
		seen := map[int]bool{}
		covered := 0
		for _, p := range d.Points {
			require.False(t, seen[p.Row], "two records of one row")
			seen[p.Row] = true
			covered += 1 + strings.Count(p.ID+p.Desc, "\n")
		}
		if !open {
			require.Len(t, d.Points, len(lines))
		}
		require.LessOrEqual(t, covered, len(lines))
		require.Equal(t, len(d.Points), d.PointCount)
		for _, p := range d.Points {
			// a record that says nothing is wrong has numbers that were written so
			if p.Bad == "" && p.Levelled && !open {
				fields := strings.Split(lines[p.Row-2], ",")
				z, _, err := unit.ParseDecimal(fields[3])
				require.NoError(t, err)
				require.Equal(t, z, p.Z)
			}
		}
	})
}

// manyRows is a point file that is made while it is read.
type manyRows struct {
	row, rows int
	left      []byte
}

func (m *manyRows) Read(b []byte) (int, error) {
	if len(m.left) == 0 {
		if m.row > m.rows {
			return 0, io.EOF
		}
		m.left = m.left[:0]
		if m.row == 0 {
			m.left = append(m.left, "point,easting_m,northing_m,level_m,code\n"...)
			m.row++
		}
		for range 1000 {
			if m.row > m.rows {
				break
			}
			m.left = fmt.Appendf(m.left, "%d,%d.123,5800%03d.456,45.678,CL\n", m.row, 320000+m.row%1000, m.row%1000)
			m.row++
		}
	}
	n := copy(b, m.left)
	m.left = m.left[n:]
	return n, nil
}

// Points that are handed over in batches leave no memory behind: with ten times
// the rows, what is held stays the same.
func TestMemoryDoesNotGrowWithTheFile(t *testing.T) {
	held := func(rows int) uint64 {
		n, peak := 0, uint64(0)
		_, err := Decode(&manyRows{rows: rows}, "t.csv", formats.Options{Points: func(_ formats.Pos, batch []formats.Point) error {
			require.LessOrEqual(t, len(batch), formats.BatchSize)
			for i := range batch {
				require.Equal(t, n+2+i, batch[i].Row)
			}
			if n/100_000 != (n+len(batch))/100_000 {
				runtime.GC()
				var m runtime.MemStats
				runtime.ReadMemStats(&m)
				peak = max(peak, m.HeapAlloc)
			}
			n += len(batch)
			return nil
		}})
		require.NoError(t, err)
		require.Equal(t, rows, n)
		return peak
	}
	small, large := held(120_000), held(1_200_000)
	assert.Less(t, large, small+4<<20)
}

// One million rows a round.
func BenchmarkPoints(b *testing.B) {
	text, err := io.ReadAll(&manyRows{rows: 1_000_000})
	require.NoError(b, err)
	in := string(text)
	b.SetBytes(int64(len(in)))
	b.ReportAllocs()
	for b.Loop() {
		_, err := Decode(strings.NewReader(in), "b.csv", formats.Options{Points: func(formats.Pos, []formats.Point) error { return nil }})
		if err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.N)*1e6/b.Elapsed().Seconds()/1e6, "Mrows/s")
}
