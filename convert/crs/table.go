package crs

import (
	_ "embed"
	"encoding/csv"
	"fmt"
	"io"
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
	proj, version                                           string
	methods, units, bounds, geographic, conversions, planes map[string]record
	shifts                                                  map[string][]record // by datum
}

// loaded reads the table once.
var loaded = sync.OnceValue(func() *table { return readTable(epsg) })

func readTable(text string) *table {
	t := &table{methods: map[string]record{}, units: map[string]record{}, bounds: map[string]record{}, geographic: map[string]record{},
		conversions: map[string]record{}, planes: map[string]record{}, shifts: map[string][]record{}}
	kinds := map[string]map[string]record{"m": t.methods, "u": t.units, "x": t.bounds, "g": t.geographic, "c": t.conversions, "p": t.planes}
	r := csv.NewReader(strings.NewReader(text))
	r.FieldsPerRecord = -1
	for {
		row, err := r.Read()
		if err == io.EOF {
			return t
		}
		if err != nil || len(row) < 3 {
			panic(fmt.Sprintf("epsg.csv: %q: %v", row, err)) // embedded and tested
		}
		switch kind := row[0]; {
		case kind == "s":
			t.shifts[row[1]] = append(t.shifts[row[1]], row[2:])
		case kind == "v" && row[1] == "PROJ":
			t.proj = row[2]
		case kind == "v":
			t.version = row[2] + " of " + row[3]
		default:
			kinds[kind][row[1]] = row[2:]
		}
	}
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
	r, ok := t.bounds[number]
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
