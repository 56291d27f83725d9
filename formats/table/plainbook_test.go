package table

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// read gives the rows of a grid to a Builder, with the quick reader or without; the
// line of row spoilt, from 0, has a fault.
func read(t require.TestingT, rows [][]Cell, opt formats.Options, comma bool, spoilt int, slow bool) *formats.Document {
	d := &formats.Document{File: "b.csv"}
	b := New(d, formats.Pos{File: "b.csv"}, opt)
	b.slow = slow
	b.DecimalComma(comma)
	for i := range rows {
		if i == spoilt {
			b.Fault(1, "the line holds bytes that are not UTF-8")
		}
		require.NoError(t, b.Row(i+1, append([]Cell(nil), rows[i]...)))
	}
	require.NoError(t, b.Close())
	formats.SortProblems(d.Problems)
	formats.SortProblems(d.Notes)
	return d
}

// The quick reader of books makes of every book what the other one makes: rows,
// places, problems and notes, whatever the cells hold.
func TestQuickRowsAreTheSame(t *testing.T) {
	heads := []string{
		"Point|BS|IS|FS|Remark",
		"Point|BS (m)|IS (m)|FS (m)|Rise|Fall|RL|Known|Code|Remark",
		"Loop|Point|BS|IS|FS|Known RL|Remark",
		"Point|BS|FS|Collimation|Level|Distance|Page|Inverted",
		"Point|BS|IS|FS|Distance BS|Distance FS|Chainage|Offset|Run|Staffed|Set-up|Time|Staff",
		"Point|BS|BS upper|BS lower|IS|FS|BS mean|Remark",
		"Point|Type|Reading|RL|Remark",
		"BS|IS|FS|RL|Remark",
		"RL|FS|IS|BS|Point|Easting",
	}
	number := rapid.OneOf(rapid.SampledFrom([]string{"", "", "1.0", "1.0", "2", "3.0", "-1.0", "1.500", "(1.0)"}), rapid.StringMatching(`-?[0-9]{1,3}(\.[0-9]{0,4})?`),
		rapid.SampledFrom([]string{"0", "-0", "007", "1.", ".5", "+1", "-9999", "-9999.00", "99999", "-32768", "1e3", "1,5", "1,500.2", "1.5,2", "12 ", " 12", "a", "n/a", "-", "--", "'5", "BS", "123456789012345678", "-999999999999999999",
			"1234567890123456789", "0.1234567890123456789", "2000000", "-2000000", "1.2.3", "-", "\t1", "1\u00a0", "−1", "(", "()", "1-2"}))
	name := rapid.OneOf(rapid.SampledFrom([]string{"A1", "A1", "B2", "TP1", "BM1", "C3", "", "a", "Sum", "Total 1", "c/f", "C.F.", "cf", "cf1", "b/f", "Carried forward", "check", "∑BS", "Σ", "σ1", "Page 2", "p 3", "6.00E+02", "06E+02", "3-Apr", "CP-3", "x\u00a01", " A1", "A1 ",
		"Point", "BS", "site book", "٣", "1!", "A1!", "result"}), rapid.StringMatching(`[A-Z]{1,2}[0-9.]{1,3}`))
	text := rapid.SampledFrom([]string{"", "", "", "spot", "close", "bench mark", "c/f", "C/F", "b/f", "carried forward", "carried fwd 2", "(brought forward)", "broughtfwd", "1 c/f", "c f", "ć/f", "é", "Total", "sums", "yes", "no", "1", "2", "1.5", "S1", "-", "Page 3", "Remark", "BS", "1e-3"})
	line := func(texts []string) []Cell {
		cells := make([]Cell, len(texts))
		for i, s := range texts {
			cells[i].Text = s
		}
		return cells
	}
	taken := 0
	check := func(t *rapid.T) {
		head := strings.Split(rapid.SampledFrom(heads).Draw(t, "head"), "|")
		tidy := func(role string) string {
			switch {
			case numeric[role]:
				return rapid.SampledFrom([]string{"", "", "1.0", "2.0", "1.250", "-0.5"}).Draw(t, "number")
			case role == Name:
				return rapid.SampledFrom([]string{"A1", "B2", "TP-1", "BM1"}).Draw(t, "name")
			case role == Remark:
				return rapid.SampledFrom([]string{"", "spot", "c/f", "close"}).Draw(t, "remark")
			case role == Type:
				return rapid.SampledFrom([]string{"BS", "IS", "FS"}).Draw(t, "type")
			case role == Page:
				return rapid.SampledFrom([]string{"", "0", "1", "10", "1.0", "01", "-1"}).Draw(t, "page")
			case role == Inverted:
				return rapid.SampledFrom([]string{"", "no", "n", "0", "-", "No", "yes"}).Draw(t, "flag")
			}
			return ""
		}
		messy := func(role string) string {
			switch {
			case numeric[role]:
				return number.Draw(t, "number")
			case role == Name:
				return name.Draw(t, "name")
			}
			return text.Draw(t, "text")
		}
		rows := [][]Cell{line([]string{"site book"}), line(head)}
		units := make([]string, len(head)) // second line of the heading, in some books
		if rapid.IntRange(0, 4).Draw(t, "two lines") == 0 {
			for i := range head {
				if numeric[parseHeading(head[i]).role] {
					units[i] = "(m)"
				}
			}
			rows = append(rows, line(units))
		}
		for range rapid.IntRange(0, 25).Draw(t, "rows") {
			odd := rapid.IntRange(-len(head), len(head)-1).Draw(t, "odd") // one cell, or none
			all := rapid.IntRange(0, 5).Draw(t, "all are odd") == 0
			texts := make([]string, len(head)+rapid.SampledFrom([]int{0, 0, 0, 0, 0, -1, 1}).Draw(t, "more"))
			for i := range texts {
				role := ""
				if i < len(head) {
					role = parseHeading(head[i]).role
				}
				if texts[i] = tidy(role); all || i == odd {
					texts[i] = messy(role)
				}
			}
			switch rapid.IntRange(0, 19).Draw(t, "kind") {
			case 0:
				rows = append(rows, line(head))
				if rapid.Bool().Draw(t, "both lines") {
					rows = append(rows, line(units))
				}
				continue
			case 1:
				rows = append(rows, line([]string{rapid.SampledFrom([]string{"", "Page 2", "site book", "Page 1 of 3"}).Draw(t, "title")}))
				continue
			case 2: // the last one again, as at the head of a page
				rows = append(rows, rows[len(rows)-1])
				continue
			case 3: // sums, some of which are right, or of rises and falls alone
				alone := rapid.Bool().Draw(t, "alone")
				for i := range texts {
					switch parseHeading(head[min(i, len(head)-1)]).role {
					case Name, Remark:
						texts[i] = rapid.SampledFrom([]string{"", "Sum", "c/f", "check"}).Draw(t, "sum")
					case BS, IS, FS:
						if texts[i] = ""; !alone {
							texts[i] = rapid.SampledFrom([]string{"", "0", "1", "2", "1.250", "3.250"}).Draw(t, "of readings")
						}
					}
				}
			}
			cells := line(texts)
			if odd >= 0 && odd < len(cells) {
				switch rapid.IntRange(0, 9).Draw(t, "cell") {
				case 0:
					cells[odd].Date = true
				case 1:
					cells[odd].Bad = "#REF! is a spreadsheet error"
				}
			}
			rows = append(rows, cells)
		}
		opt := formats.Options{Content: rapid.SampledFrom([]formats.Content{formats.LevelContent, formats.AnyContent}).Draw(t, "content"), Unit: rapid.SampledFrom([]unit.Unit{{}, unit.M}).Draw(t, "unit"),
			Bytes: rapid.SampledFrom([]int64{0, 1, 5000}).Draw(t, "bytes"), FeetInches: rapid.IntRange(0, 9).Draw(t, "feet") == 0}
		if rapid.IntRange(0, 4).Draw(t, "accept") == 0 {
			opt.Accept = map[string]string{"4:2": "1.5", "5:3": "12"}
		}
		comma, spoilt := rapid.IntRange(0, 4).Draw(t, "comma") == 0, rapid.IntRange(-20, len(rows)-1).Draw(t, "spoilt")
		want, got := read(t, rows, opt, comma, spoilt, true), read(t, rows, opt, comma, spoilt, false)
		require.Equal(t, want, got)
		for i := range got.Books {
			taken += len(got.Books[i].Rows)
		}
	}
	for range 10 {
		rapid.Check(t, check)
	}
	assert.Greater(t, taken, 2000, "the books have rows")
}

// The books that come with the program, cut at their delimiters and nothing more.
func TestQuickRowsOfTestdata(t *testing.T) {
	books := 0
	require.NoError(t, filepath.WalkDir("../../testdata", func(path string, f fs.DirEntry, err error) error {
		if err != nil || f.IsDir() || !strings.HasSuffix(path, ".csv") && !strings.HasSuffix(path, ".txt") {
			return err
		}
		text, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		for _, delim := range []string{",", ";", "\t"} {
			var rows [][]Cell
			for _, l := range strings.Split(string(text), "\n") {
				var cells []Cell
				for _, s := range strings.Split(l, delim) {
					cells = append(cells, Cell{Text: s})
				}
				rows = append(rows, cells)
			}
			opt := formats.Options{Content: formats.LevelContent, Unit: unit.M}
			want, got := read(t, rows, opt, false, -1, true), read(t, rows, opt, false, -1, false)
			require.Equal(t, want, got, path)
			books += len(got.Books)
		}
		return nil
	}))
	assert.Greater(t, books, 5)
}

// What the quick reader takes, and what it leaves to the other one.
func TestQuickRowTakesPlainRows(t *testing.T) {
	head := strings.Split("Point|BS|IS|FS|Rise|Level|Inverted|Staff|Remark|Other", "|")
	for row, takes := range map[string]bool{
		"A1|1.500|||||||start|x": true, "A1||2||0.5|50.25|||": true, "TP-2|||1|||||": true, "A1 | 1.5": true, "A1|-1.5|||||||": true, "A1|1.5||||||S1|close": true, "A1|1.5|||||no|||": true,
		"A|1.5": false, "|1.5": false, "A1||": false, "A1|(1.5)": false, "A1|1.": false, "A1|.5": false, "A1|+1": false, "A1|1e3": false, "A1|-9999": false, "A1|1.5||||||1.5": false,
		"A1|1.5|||||||c/f": false, "A1|1.5|||||yes": false, "3-Apr|1.5": false, "A1|1.5|||||||||extra": false, "A1|1234567890123456789": false, "A1|123456789012345678": false, "A1|1,5": false, "A1|-": false,
	} {
		d := &formats.Document{File: "b.csv"}
		b := New(d, formats.Pos{File: "b.csv"}, formats.Options{Content: formats.LevelContent, Unit: unit.M})
		cells := func(texts []string) (c []Cell) {
			for _, s := range texts {
				c = append(c, Cell{Text: s})
			}
			return c
		}
		require.NoError(t, b.Row(1, cells(head)))
		require.NoError(t, b.Row(2, cells([]string{"BM1", "1.0"})))
		assert.Equal(t, takes, b.quickRow(3, cells(strings.Split(row, "|"))), row)
		if n := len(b.book.Rows); takes {
			require.Equal(t, 2, n, row)
		} else {
			require.Equal(t, 1, n, fmt.Sprint(row, ": nothing happened"))
		}
	}
}
