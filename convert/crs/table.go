package crs

import (
	_ "embed"
	"encoding/csv"
	"fmt"
	"iter"
	"math"
	"strconv"
	"strings"
	"sync"
)

// The table of plane systems; gen.py writes it and tells its rows.
//
//go:embed epsg.csv
var epsg string

// record is a row without its kind and code.
type record []string

// at returns a field, "" where the row ends before it.
func (r record) at(i int) string {
	if i < len(r) {
		return r[i]
	}
	return ""
}

type table struct {
	proj, version                                                   string
	methods, units, bounds, geographic, conversions, planes, shifts rows // shifts by datum
}

// rows are those of one kind, which stand together. A job asks for a handful of the
// thousands, so they are looked for in the text when they are asked for.
type rows struct{ kind, text string }

// of returns the first row of a code.
func (r rows) of(code string) (record, bool) {
	for row := range r.all(code) {
		return row, true
	}
	return nil, false
}

// get is of for a code that another row names, which is there.
func (r rows) get(code string) record {
	row, ok := r.of(code)
	if !ok {
		panic("epsg.csv: no row " + r.kind + "," + code)
	}
	return row
}

// all yields the rows of a code.
func (r rows) all(code string) iter.Seq[record] {
	return func(yield func(record) bool) {
		if code == "" || strings.Trim(code, "0123456789") != "" { // as all codes are written
			return
		}
		key := r.kind + "," + code + ","
		for from := 0; ; {
			i := strings.Index(r.text[from:], key)
			if i < 0 {
				return
			}
			i += from
			from = i + len(key)
			if i > 0 && r.text[i-1] != '\n' { // inside a row
				continue
			}
			line, _, _ := strings.Cut(r.text[from:], "\n")
			if !yield(fields(line)) {
				return
			}
		}
	}
}

// codes yields the code of every row, in the order of the text.
func (r rows) codes() iter.Seq[string] {
	return func(yield func(string) bool) {
		for line := range strings.Lines(r.text) {
			code, _, _ := strings.Cut(line[len(r.kind)+1:], ",")
			if !yield(code) {
				return
			}
		}
	}
}

// fields splits a row.
func fields(line string) record {
	if !strings.Contains(line, `"`) {
		return strings.Split(line, ",")
	}
	row, err := csv.NewReader(strings.NewReader(line)).Read()
	if err != nil {
		panic(fmt.Sprintf("epsg.csv: %q: %v", line, err)) // embedded and tested
	}
	return row
}

// loaded finds the kinds of rows once.
var loaded = sync.OnceValue(func() *table { return readTable(epsg) })

func readTable(text string) *table {
	t := &table{}
	kinds := map[string]*rows{"m": &t.methods, "u": &t.units, "x": &t.bounds, "g": &t.geographic, "c": &t.conversions, "p": &t.planes, "s": &t.shifts}
	var now *rows
	begin, at := 0, 0
	for line := range strings.Lines(text) {
		kind, rest, _ := strings.Cut(line, ",")
		code, rest, ok := strings.Cut(strings.TrimSuffix(rest, "\n"), ",")
		block := kinds[kind]
		switch {
		case !ok:
			panic(fmt.Sprintf("epsg.csv: %q is no row", line)) // embedded and tested
		case kind == "v" && code == "PROJ":
			t.proj = rest
		case kind == "v":
			v := fields(rest)
			t.version = v[0] + " of " + v[1]
		case block == nil || block != now && block.text != "":
			panic(fmt.Sprintf("epsg.csv: %q is of no kind, or not beside its kind", line))
		case block != now:
			now, begin = block, at
			fallthrough
		default:
			*now = rows{kind, text[begin : at+len(line)]}
		}
		at += len(line)
	}
	return t
}

// Version names the source of the table: the EPSG dataset, and the PROJ whose
// database it was taken from.
func Version() string {
	t := loaded()
	return "EPSG dataset " + t.version + ", from the database of PROJ " + t.proj
}

// number reads a number that the generator wrote: a decimal or n/d.
func number(s string) float64 {
	n, d, over := strings.Cut(s, "/")
	f, err := strconv.ParseFloat(n, 64)
	if err == nil && over {
		var g float64
		g, err = strconv.ParseFloat(d, 64)
		f /= g
	}
	if err != nil {
		panic("epsg.csv: " + err.Error())
	}
	return f
}

func numbers(r []string) []float64 {
	v := make([]float64, len(r))
	for i, s := range r {
		v[i] = number(s)
	}
	return v
}

// Bounds are limits in degrees of WGS 84; West is greater than East where they
// cross the antimeridian.
type Bounds struct{ West, South, East, North float64 }

var world = Bounds{-180, -90, 180, 90}

// boundsOf reads bounds by their number; none is the whole world.
func (t *table) boundsOf(number string) Bounds {
	r, ok := t.bounds.of(number)
	if !ok {
		return world
	}
	v := numbers(r)
	return Bounds{v[0], v[1], v[2], v[3]}
}

// width is how many degrees of longitude the bounds hold.
func (b Bounds) width() float64 {
	if b.West > b.East {
		return b.East - b.West + 360
	}
	return b.East - b.West
}

// Hold reports whether the bounds, wider by a margin in degrees, hold a place.
func (b Bounds) Hold(lon, lat, margin float64) bool {
	if !(lat >= b.South-margin && lat <= b.North+margin) {
		return false
	}
	if lon >= b.West && lon <= b.East { // most
		return true
	}
	return math.Mod(lon-b.West+margin+720, 360) <= b.width()+2*margin
}

// meet reports whether two bounds have places in common.
func (b Bounds) meet(o Bounds) bool {
	return b.South <= o.North && o.South <= b.North && (b.Hold(o.West, b.South, 0) || o.Hold(b.West, o.South, 0))
}

// within reports whether b lies in o.
func (b Bounds) within(o Bounds) bool {
	return o.Hold(b.West, b.South, 0) && o.Hold(b.East, b.North, 0) && (b.width() <= o.width())
}

// String prints the bounds.
func (b Bounds) String() string {
	side := func(x float64, plus, minus string) string {
		if x < 0 {
			x, plus = -x, minus
		}
		return strconv.FormatFloat(x, 'f', -1, 64) + "°" + plus
	}
	return side(b.West, "E", "W") + " to " + side(b.East, "E", "W") + ", " + side(b.South, "N", "S") + " to " + side(b.North, "N", "S")
}
