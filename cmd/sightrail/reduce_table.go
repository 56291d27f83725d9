package main

import (
	"io"
	"strconv"
	"unicode/utf8"

	"sightrail/convert/levels"
	"sightrail/formats/unit"
)

// bookTable prints the rows of a reduced book, every column as wide as its widest
// cell and flush right. A book may have a hundred thousand rows: they are measured
// once and printed once, and none of their texts is kept.
type bookTable struct {
	r      *reduction
	places int
	step   unit.Length // lengths that are whole counts of it have no more decimals than places; 0 is not known
	worth  []string    // by row, where it was asked for
	b      []byte
	width  [bookColumns]int
}

// The columns, in order.
const (
	columnRow = iota
	columnPoint
	columnBS
	columnIS
	columnFS
	columnRise
	columnFall
	columnCollimation
	columnLevel
	columnWorth // only where it was asked for
	columnAdjusted
	columnRemark
	bookColumns
)

var bookHeads = [bookColumns]string{"row", "point", "BS", "IS", "FS", "rise", "fall", "collimation", "level", "u mm", "adjusted", "remark"}

const (
	between    = 2       // spaces, at least, between columns
	tableBytes = 1 << 16 // printed at a time
)

// blank is the room before a cell, in parts.
const blank = "                                                                "

func newBookTable(r *reduction, places int) *bookTable {
	t := &bookTable{r: r, places: places, b: make([]byte, 0, tableBytes+1<<12)}
	scale := unit.Length(1)
	for range places {
		scale *= 10
	}
	if u := r.book.Unit.Size; u%scale == 0 {
		t.step = u / scale
	}
	if r.worth != nil {
		t.worth = make([]string, len(r.book.Result.Rows))
		for i := range t.worth {
			t.worth[i] = r.uncertainty(i)
		}
	}
	return t
}

// reading prints a length as booked: exactly.
func (t *bookTable) reading(b []byte, l unit.Length) []byte {
	if t.r.book.Book.FeetInches {
		return l.AppendFixed(b, t.r.book.Unit, 4) // an eighth of an inch is no decimal of a foot
	}
	return l.AppendExact(b, t.r.book.Unit, t.places)
}

// level prints a length as worked out.
func (t *bookTable) level(b []byte, l unit.Length) []byte {
	return l.AppendFixed(b, t.r.book.Unit, max(t.places, 3))
}

// remark says where the level of a mark is from.
func (t *bookTable) remark(b []byte, in *levels.Row) []byte {
	if !in.Known.Set {
		return b
	}
	b = t.reading(append(b, "known "...), in.Known.L)
	return append(append(append(b, " ("...), in.KnownFrom...), ')')
}

// span is the smallest and the largest length of a column. One of them is the
// widest of those with the same number of decimals.
type span struct {
	least, most unit.Length
	any         bool
}

func (x *span) add(l unit.Length) {
	if !x.any {
		*x = span{l, l, true}
	}
	x.least, x.most = min(x.least, l), max(x.most, l)
}

// widest is the width that the two need, and what was measured already.
func (x *span) widest(print func([]byte, unit.Length) []byte, width int) int {
	if !x.any {
		return width
	}
	var buf [64]byte
	return max(width, len(print(buf[:0], x.least)), len(print(buf[:0], x.most)))
}

// measure finds the widths of the columns.
func (t *bookTable) measure() {
	var x [bookColumns]span
	var buf [128]byte
	w := &t.width
	for k, head := range bookHeads {
		w[k] = len(head)
	}
	reading := func(k int, v levels.Value) {
		switch {
		case !v.Set:
		case t.step > 0 && v.L%t.step == 0 || t.r.book.Book.FeetInches:
			x[k].add(v.L)
		default: // more decimals
			w[k] = max(w[k], len(t.reading(buf[:0], v.L)))
		}
	}
	level := func(k int, v levels.Value) {
		if v.Set {
			x[k].add(v.L)
		}
	}
	rows, last := t.r.book.Result.Rows, 0
	for i := range rows {
		in, row, b := &t.r.book.Rows[i], &rows[i], &t.r.book.Book.Rows[i]
		last = max(last, b.Row)
		w[columnPoint] = max(w[columnPoint], runes(printable(b.Point)))
		reading(columnBS, in.BS)
		reading(columnIS, in.IS)
		reading(columnFS, in.FS)
		reading(columnRise, row.Rise)
		reading(columnFall, row.Fall)
		level(columnCollimation, row.Collimation)
		level(columnLevel, row.Level)
		level(columnAdjusted, row.Adjusted)
		if t.worth != nil {
			w[columnWorth] = max(w[columnWorth], len(t.worth[i]))
		}
		if in.Known.Set {
			w[columnRemark] = max(w[columnRemark], len(t.remark(buf[:0], in)))
		}
	}
	w[columnRow] = max(w[columnRow], len(strconv.AppendInt(buf[:0], int64(last), 10)))
	for k := columnBS; k <= columnFall; k++ {
		w[k] = x[k].widest(t.reading, w[k])
	}
	for _, k := range []int{columnCollimation, columnLevel, columnAdjusted} {
		w[k] = x[k].widest(t.level, w[k])
	}
}

// runes is how wide a text is.
func runes(s string) int {
	for i := range len(s) {
		if s[i] >= utf8.RuneSelf {
			return utf8.RuneCountInString(s)
		}
	}
	return len(s)
}

// room makes room before a cell that is wide.
func (t *bookTable) room(k, wide int) {
	n := t.width[k] + between - wide
	for ; n > len(blank); n -= len(blank) {
		t.b = append(t.b, blank...)
	}
	t.b = append(t.b, blank[:n]...)
}

func (t *bookTable) text(k int, s string) {
	t.room(k, runes(s))
	t.b = append(t.b, s...)
}

func (t *bookTable) bytes(k int, s []byte) {
	t.room(k, len(s))
	t.b = append(t.b, s...)
}

func (t *bookTable) reads(k int, v levels.Value) {
	if !v.Set {
		t.room(k, 0)
		return
	}
	var buf [64]byte
	t.bytes(k, t.reading(buf[:0], v.L))
}

func (t *bookTable) stands(k int, v levels.Value) {
	if !v.Set {
		t.room(k, 0)
		return
	}
	var buf [64]byte
	t.bytes(k, t.level(buf[:0], v.L))
}

// write prints the heading and every row.
func (t *bookTable) write(w io.Writer) error {
	t.measure()
	for k, head := range bookHeads {
		if k != columnWorth || t.worth != nil {
			t.text(k, head)
		}
	}
	t.b = append(t.b, '\n')
	var buf [128]byte
	rows := t.r.book.Result.Rows
	for i := range rows {
		in, row, b := &t.r.book.Rows[i], &rows[i], &t.r.book.Book.Rows[i]
		t.bytes(columnRow, strconv.AppendInt(buf[:0], int64(b.Row), 10))
		t.text(columnPoint, printable(b.Point))
		t.reads(columnBS, in.BS)
		t.reads(columnIS, in.IS)
		t.reads(columnFS, in.FS)
		t.reads(columnRise, row.Rise)
		t.reads(columnFall, row.Fall)
		t.stands(columnCollimation, row.Collimation)
		t.stands(columnLevel, row.Level)
		if t.worth != nil {
			t.text(columnWorth, t.worth[i])
		}
		t.stands(columnAdjusted, row.Adjusted)
		t.bytes(columnRemark, t.remark(buf[:0], in))
		if t.b = append(t.b, '\n'); len(t.b) >= tableBytes {
			if _, err := w.Write(t.b); err != nil {
				return err
			}
			t.b = t.b[:0]
		}
	}
	_, err := w.Write(t.b)
	return err
}
