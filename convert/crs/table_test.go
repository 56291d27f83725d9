package crs

import (
	"encoding/csv"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Every row of the table gives a system, or says by which method it is not to be
// had; and no other code does.
func TestEveryCode(t *testing.T) {
	count, refused := map[string]int{}, map[string]int{}
	for code := range loaded().planes.codes() {
		s, err := Lookup("EPSG:" + code)
		if err != nil {
			require.ErrorIs(t, err, ErrUnsupported)
			refused[loaded().methods.get(loaded().conversions.get(loaded().planes.get(code)[2])[0])[0]]++
			continue
		}
		count[s.Method]++
		require.Equal(t, code, s.Code)
		require.NotContains(t, s.Name, "=")
		require.True(t, s.Unit.Metres > 0.1, code)
		require.True(t, s.Area.West >= -180 && s.Area.East <= 180 && s.Area.South < s.Area.North, code)
		require.False(t, s.ReplacedBy != "" && !s.Deprecated)
		if s.ReplacedBy != "" {
			_, there := loaded().planes.of(s.ReplacedBy)
			require.True(t, there, s.ReplacedBy)
		}
	}
	assert.Equal(t, 3962, count["Transverse Mercator"])
	assert.Equal(t, 971, count["Lambert Conic Conformal (2SP)"])
	assert.Equal(t, 233, count["Lambert Conic Conformal (1SP)"])
	assert.Equal(t, 36, count["Hotine Oblique Mercator (variant A)"]+count["Hotine Oblique Mercator (variant B)"])
	total := 0
	for _, n := range count {
		total += n
	}
	assert.Equal(t, 5401, total)
	assert.Len(t, slices.Collect(loaded().planes.codes()), 5500)
	assert.Equal(t, 1, refused["New Zealand Map Grid"])
	assert.Equal(t, 19, refused["Lambert Conic Conformal (West Orientated)"])
	assert.Equal(t, 2, refused["Transverse Mercator"])
	assert.Equal(t, "EPSG dataset v10.076 of 2022-08-31, from the database of PROJ 9.1.1", Version())
}

// Rows are found in the text as a reader of the whole of it finds them; what is no code
// finds none.
func TestRowsAreThoseOfTheText(t *testing.T) {
	r := csv.NewReader(strings.NewReader(epsg))
	r.FieldsPerRecord = -1
	list, err := r.ReadAll()
	require.NoError(t, err)
	want, order := map[string][]record{}, map[string][]string{}
	for _, row := range list {
		want[row[0]+","+row[1]] = append(want[row[0]+","+row[1]], row[2:])
		order[row[0]] = append(order[row[0]], row[1])
	}
	tab := loaded()
	n := 2 // rows of the version
	for kind, rows := range map[string]rows{"m": tab.methods, "u": tab.units, "x": tab.bounds, "g": tab.geographic, "c": tab.conversions, "p": tab.planes, "s": tab.shifts} {
		require.Equal(t, order[kind], slices.Collect(rows.codes()))
		n += len(order[kind])
		for _, code := range order[kind] {
			require.Equal(t, want[kind+","+code], slices.Collect(rows.all(code)), code)
			first, ok := rows.of(code)
			require.True(t, ok)
			require.Equal(t, want[kind+","+code][0], first)
			require.True(t, kind == "s" || len(want[kind+","+code]) == 1, "%s,%s stands twice", kind, code)
		}
		for _, code := range []string{"", "00", "7855,6318", "\n" + kind + ",1", "x", " ", "78 55", "7855.", "٧"} {
			_, ok := rows.of(code)
			require.False(t, ok, code)
		}
	}
	require.Equal(t, len(list), n)
	assert.Panics(t, func() { tab.planes.get("1") })
}

func TestLookupErrors(t *testing.T) {
	for code, want := range map[string]string{
		"":          `EPSG: is not a plane system of the EPSG dataset v10.076 of 2022-08-31; write the code of a plane grid, such as EPSG:7855`,
		"EPSG:1":    `EPSG:1 is not a plane system of the EPSG dataset v10.076 of 2022-08-31; write the code of a plane grid, such as EPSG:7855`,
		"EPSG:4326": `EPSG:4326 (WGS 84) is longitude and latitude, not a plane system of the EPSG dataset; write the code of the grid that the eastings and northings are in`,
		"27200":     `EPSG:27200 (NZGD49 / New Zealand Map Grid) is projected in a way that is not provided, New Zealand Map Grid (EPSG method 9811) with the parameters it has; take the coordinates to another grid of the same place first`,
		"3857":      `EPSG:3857 (WGS 84 / Pseudo-Mercator) is projected in a way that is not provided, Popular Visualisation Pseudo Mercator (EPSG method 1024) with the parameters it has; take the coordinates to another grid of the same place first`,
		"3752":      `EPSG:3752 (WGS 84 / Mercator 41) is projected in a way that is not provided, Mercator (variant A) (EPSG method 9804) with the parameters it has; EPSG has withdrawn it and put EPSG:3994 in its place`,
		"6996":      `EPSG:6996 (NAD83(2011) / San Francisco CS13) is projected in a way that is not provided, Transverse Mercator (EPSG method 9807) with the parameters it has; EPSG has withdrawn it and put EPSG:7131 in its place`,
	} {
		_, err := Lookup(code)
		assert.EqualError(t, err, want)
	}
}

// Parameters as EPSG has them, from the registry by memory.
func TestParametersAsInEPSG(t *testing.T) {
	s := look(t, "2236") // Florida East: 656166.667 ft, not 200000 m
	assert.Equal(t, "NAD83 / Florida East (ftUS)", s.Name)
	assert.Equal(t, Unit{"9003", "US survey foot", "1200/3937", 1200.0 / 3937}, s.Unit)
	assert.InDelta(t, 656166.667, s.east/s.Unit.Metres, 1e-9)
	e, _ := s.Plane(-81, 25)
	assert.InDelta(t, 656166.667, e, 1e-9)
	assert.Equal(t, "656166.667", loaded().conversions.get(loaded().planes.get("2236")[2])[5])

	s = look(t, " EPSG:7855 ")
	assert.Same(t, s, look(t, "7855"))
	assert.Equal(t, "GDA2020 / MGA zone 55", s.Name)
	assert.Equal(t, "GDA2020", s.Geographic)
	assert.Equal(t, "Geocentric Datum of Australia 2020", s.Datum)
	assert.Equal(t, "Transverse Mercator", s.Method)
	assert.True(t, s.Conformal)
	assert.False(t, s.NorthFirst || s.Westing || s.Southing || s.Deprecated)
	assert.Equal(t, "144°E to 150.01°E, 50.89°S to 9.23°S", s.Area.String())

	assert.True(t, look(t, "2193").NorthFirst, "NZTM lists northing first")
}

// A meridian other than Greenwich, from EPSG: Paris is 2° 20' 14.025".
func TestPrimeMeridian(t *testing.T) {
	s := look(t, "27572") // NTF (Paris) / Lambert zone II: origin on the meridian of Paris, 52 grads
	lon, lat := s.Earth(600000, 2200000)
	assert.InDelta(t, 2+20./60+14.025/3600, lon, 1e-12)
	assert.InDelta(t, 52*0.9, lat, 1e-12)
	e, n := s.Plane(lon, lat)
	assert.InDelta(t, 600000, e, 1e-6)
	assert.InDelta(t, 2200000, n, 1e-6)
}

// EPSG:31370 is the same grid as EPSG:31300 by method 9802, with its meridian
// rounded to 0.001": 43 mm. A turn forgotten is 760 m.
func TestBelgianVariant(t *testing.T) {
	a, b := look(t, "31300"), look(t, "31370")
	for lon := 2.6; lon < 6.4; lon += 0.5 {
		for lat := 49.6; lat < 51.5; lat += 0.3 {
			e1, n1 := a.Plane(lon, lat)
			e2, n2 := b.Plane(lon, lat)
			assert.InDelta(t, e1, e2, 0.05)
			assert.InDelta(t, n1, n2, 0.05)
		}
	}
}

func TestDeprecated(t *testing.T) {
	s := look(t, "3050") // ETRS89 / TM38
	assert.True(t, s.Deprecated)
	for code := range loaded().planes.codes() {
		if s, err := Lookup(code); err == nil && s.Deprecated && s.ReplacedBy != "" {
			return
		}
	}
	assert.Fail(t, "no system is replaced by another")
}

func TestBounds(t *testing.T) {
	b := Bounds{West: 170, South: -10, East: -170, North: 10}
	for _, x := range []struct {
		lon, lat, margin float64
		want             bool
	}{
		{175, 0, 0, true}, {-175, 0, 0, true}, {180, 0, 0, true}, {-180, 0, 0, true}, {0, 0, 0, false}, {169.9, 0, 0, false}, {169.9, 0, 0.2, true},
		{-169.9, 0, 0.2, true}, {-169, 0, 0.2, false}, {175, 10.1, 0, false}, {175, 10.1, 0.2, true}, {175, -10.3, 0.2, false},
	} {
		assert.Equal(t, x.want, b.Hold(x.lon, x.lat, x.margin), "%v", x)
	}
	world := Bounds{-180, -90, 180, 90}
	assert.True(t, world.Hold(0, 0, 0) && world.Hold(180, 90, 0) && b.within(world) && world.meet(b) && b.meet(world) && !world.within(b))
	assert.False(t, b.meet(Bounds{0, -10, 10, 10}))
	assert.False(t, b.meet(Bounds{175, 20, 176, 30}))
	assert.True(t, Bounds{171, 0, 172, 1}.within(b) && Bounds{-180, 0, -171, 1}.within(b))
	assert.Equal(t, "170°E to 170°W, 10°S to 10°N", b.String())
}

func TestNumber(t *testing.T) {
	assert.Equal(t, 0.25, number("1/4"))
	assert.Equal(t, -1.5, number("-1.5"))
	assert.Panics(t, func() { number("1/x") })
	assert.Panics(t, func() { readTable("x,1") })
	assert.Panics(t, func() { readTable("\"") })
	assert.Panics(t, func() { readTable("m,1,a\nu,1,b\nm,2,c\n") }, "rows of a kind are not together")
}

// The table is small enough for its folder, plain ASCII, and without a path.
func TestTableText(t *testing.T) {
	assert.Less(t, len(epsg), 600<<10)
	assert.Equal(t, -1, strings.IndexFunc(epsg, func(r rune) bool { return r > 126 || r < 32 && r != '\n' }))
	assert.NotContains(t, epsg, "/usr")
}
