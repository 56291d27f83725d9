package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"testing"
	"text/tabwriter"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/convert"
	"sightrail/convert/levels"
	"sightrail/formats"
	"sightrail/formats/unit"
)

// byTabwriter prints the rows of a book as the library prints columns.
func byTabwriter(w io.Writer, r *reduction, places int) error {
	res, u := r.book.Result, r.book.Unit
	show := func(v levels.Value) string {
		switch {
		case !v.Set:
			return ""
		case r.book.Book.FeetInches:
			return v.L.Fixed(u, 4)
		}
		return v.L.Exact(u, places)
	}
	level := func(v levels.Value) string {
		if !v.Set {
			return ""
		}
		return v.L.Fixed(u, max(places, 3))
	}
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	u1, u2 := "", ""
	if r.worth != nil {
		u1 = "u mm\t"
	}
	fmt.Fprintln(t, "row\tpoint\tBS\tIS\tFS\trise\tfall\tcollimation\tlevel\t"+u1+"adjusted\tremark\t")
	for i := range res.Rows {
		in, row, b := &r.book.Rows[i], &res.Rows[i], &r.book.Book.Rows[i]
		remark := ""
		if in.Known.Set {
			remark = "known " + show(in.Known) + " (" + in.KnownFrom + ")"
		}
		if r.worth != nil {
			u2 = r.uncertainty(i) + "\t"
		}
		fmt.Fprintf(t, "%d\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s%s\t%s\t\n", b.Row, masked(b.Point), show(in.BS), show(in.IS), show(in.FS), show(row.Rise), show(row.Fall),
			level(row.Collimation), level(row.Level), u2, level(row.Adjusted), remark)
	}
	return t.Flush()
}

// The table of a book is what text/tabwriter makes of it, whatever the rows hold.
func TestBookTableIsTheLibrarys(t *testing.T) {
	value := rapid.Custom(func(t *rapid.T) levels.Value {
		l := rapid.OneOf(rapid.Int64Range(-5000, 5000), rapid.SampledFrom([]int64{0, 1, -1, 1e9, -999_999_999})).Draw(t, "l")
		by := rapid.SampledFrom([]unit.Length{unit.Millimetre, unit.Millimetre, unit.Metre, unit.Micrometre * 100, unit.InternationalFoot / 1000, unit.USSurveyFoot / 100, unit.Inch / 8, unit.Nanometre, 1}).Draw(t, "by")
		if by > unit.Millimetre {
			l %= 3000
		}
		return levels.Value{Set: rapid.IntRange(0, 3).Draw(t, "set") > 0, L: unit.Length(l) * by}
	})
	name := rapid.OneOf(rapid.StringMatching(`[A-Z0-9._ -]{0,9}`), rapid.SampledFrom([]string{"", "Höhe", "a\tb", "\x7f", "\u0085", "x\xffy", "∑", "日本", "a\nb"}))
	rapid.Check(t, func(t *rapid.T) {
		book := &formats.Book{FeetInches: rapid.IntRange(0, 4).Draw(t, "feet") == 0}
		r := &reduction{book: &convert.ReducedBook{Book: book, Unit: rapid.SampledFrom([]unit.Unit{unit.M, unit.MM, unit.Ft, unit.FtUS, unit.CM}).Draw(t, "unit"), Result: &levels.Result{}}}
		blankAfter := rapid.SampledFrom([]int{3, 8}).Draw(t, "columns") // some columns are empty
		for i := range rapid.IntRange(0, 30).Draw(t, "rows") {
			v := make([]levels.Value, 9)
			for k := range v {
				if v[k] = value.Draw(t, "v"); k > blankAfter {
					v[k] = levels.Value{}
				}
			}
			book.Rows = append(book.Rows, formats.BookRow{Row: i*rapid.SampledFrom([]int{1, 1, 40}).Draw(t, "by") + 2, Point: name.Draw(t, "name")})
			r.book.Rows = append(r.book.Rows, levels.Row{Name: book.Rows[i].Point, BS: v[0], IS: v[1], FS: v[2], Known: v[8], KnownFrom: "column KNOWN"})
			r.book.Result.Rows = append(r.book.Result.Rows, levels.Reduced{Rise: v[3], Fall: v[4], Collimation: v[5], Level: v[6], Adjusted: v[7]})
		}
		if rapid.Bool().Draw(t, "worth") {
			rows := make([]levels.Row, len(book.Rows))
			for i := range rows {
				rows[i] = levels.Row{Name: "a", IS: levels.Of(unit.Metre)}
			}
			if len(rows) > 0 {
				rows[0] = levels.Row{Name: "BM", BS: levels.Of(unit.Metre), Known: levels.Of(0)}
			}
			w, err := levels.Reduce(rows, levels.Options{}).Worth(levels.Uncertainty{Reading: 12}, false)
			require.NoError(t, err)
			r.worth = w
		}
		places := rapid.SampledFrom([]int{3, 0}).Draw(t, "places")
		var want, got bytes.Buffer
		require.NoError(t, byTabwriter(&want, r, places))
		require.NoError(t, newBookTable(r, places).write(&got))
		require.Equal(t, want.String(), got.String())
	})
}

type failing struct{}

func (failing) Write([]byte) (int, error) { return 0, errors.New("disk full") }

// What cannot be written is told, in the middle of a book as well.
func TestBookTableTellsWhatIsNotWritten(t *testing.T) {
	for _, n := range []int{1, 5000} {
		r := &reduction{book: &convert.ReducedBook{Book: &formats.Book{Rows: make([]formats.BookRow, n)}, Unit: unit.M, Rows: make([]levels.Row, n), Result: &levels.Result{Rows: make([]levels.Reduced, n)}}}
		require.ErrorContains(t, newBookTable(r, 3).write(failing{}), "disk full")
	}
}
