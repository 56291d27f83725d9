package qa_test

import (
	"fmt"
	"math/big"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/convert/levels"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/checks"
	"sightrail/qa/job"
)

// Invented drains and pads; their figures follow by hand from the rules written
// beside them (common practice, no published source) but where a source is named.

// drainOf writes a network of pipes along a line to the east: pits A, B, C, ...
// at the eastings, and of each pipe the inverts at its two ends.
type drainOf struct {
	east     []string
	inverts  [][2]string
	bore     string // "" = no size
	wall     string
	linear   string // of LandXML; "" = meter
	diameter string // "" = millimeter
	north    string // of pit k: k times this; "" = all 0
	size     string // diameter of the pits; "" = none
}

func (d drainOf) xml() string {
	or := func(s, other string) string {
		if s == "" {
			return other
		}
		return s
	}
	units := fmt.Sprintf(`<Metric linearUnit=%q diameterUnit=%q/>`, or(d.linear, "meter"), or(d.diameter, "millimeter"))
	if d.linear == "foot" {
		units = fmt.Sprintf(`<Imperial linearUnit="foot" diameterUnit=%q/>`, or(d.diameter, "inch"))
	}
	pit := func(k int) string { return string(rune('A' + k)) }
	var structs, pipes strings.Builder
	for k, e := range d.east {
		north := "0"
		if d.north != "" && k > 0 {
			north = d.north
		}
		fmt.Fprintf(&structs, `<Struct name=%q><Center>%s %s</Center>`, pit(k), north, e)
		if d.size != "" {
			fmt.Fprintf(&structs, `<CircStruct diameter=%q/>`, d.size)
		}
		if k > 0 {
			fmt.Fprintf(&structs, `<Invert elev=%q flowDir="in" refPipe="P%d"/>`, d.inverts[k-1][1], k)
		}
		if k < len(d.inverts) {
			fmt.Fprintf(&structs, `<Invert elev=%q flowDir="out" refPipe="P%d"/>`, d.inverts[k][0], k+1)
			size := ""
			if d.bore != "" {
				size = fmt.Sprintf(`<CircPipe diameter=%q`, d.bore)
				if d.wall != "" {
					size += fmt.Sprintf(` thickness=%q`, d.wall)
				}
				size += "/>"
			}
			fmt.Fprintf(&pipes, `<Pipe name="P%d" refStart=%q refEnd=%q>%s</Pipe>`, k+1, pit(k), pit(k+1), size)
		}
		structs.WriteString("</Struct>")
	}
	return `<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2"><Units>` + units + `</Units><PipeNetworks><PipeNetwork name="N" pipeNetType="storm"><Structs>` +
		structs.String() + `</Structs><Pipes>` + pipes.String() + `</Pipes></PipeNetwork></PipeNetworks></LandXML>`
}

const setoutHead = "project: P\nunits: m\ngrid: local site\nheightDatum: D\nsurveyDate: 2026-03-04\n"

// drainJob is a job with one sheet of the drain in n.xml.
func drainJob(keys, more string) string {
	return setoutHead + more + "designs:\n  - {name: drain, file: n.xml, network: N, invertsAt: centre}\n  - {name: s, file: d.xml, surface: S}\nsetout:\n  - {name: run, design: drain, " + keys + "}\n"
}

func setout(t require.TestingT, text string, f files) *qa.SetoutResult {
	if f["d.xml"] == "" {
		f["d.xml"] = flat
	}
	j, err := job.Load("job.yaml", []byte(text), checks.Kinds())
	require.NoError(t, err)
	res, err := qa.Setout(j, f, "test")
	require.NoError(t, err)
	return res
}

// figures are the rows of a sheet as text: what the rows of a test are compared
// with. "-" is not known.
func figures(s *qa.SetoutSheet, u unit.Unit, of ...func(*qa.SetoutRow) levels.Value) []string {
	var out []string
	for i := range s.Rows {
		line := s.Rows[i].Name
		for _, f := range of {
			if v := f(&s.Rows[i]); v.Set {
				line += " " + v.L.Fixed(u, 3)
			} else {
				line += " -"
			}
		}
		out = append(out, strings.TrimSpace(line))
	}
	return out
}

func chainage(r *qa.SetoutRow) levels.Value { return r.Chainage }
func invert(r *qa.SetoutRow) levels.Value   { return r.Design }
func trench(r *qa.SetoutRow) levels.Value   { return r.TrenchBottom }
func rail(r *qa.SetoutRow) levels.Value     { return r.Rail }
func staff(r *qa.SetoutRow) levels.Value    { return r.StaffDesign }
func dig(r *qa.SetoutRow) levels.Value      { return r.Dig }
func receiver(r *qa.SetoutRow) levels.Value { return r.Receiver }

// 1 in 100 from 10.000 over 30 m and on, level by level.
var twoPipes = drainOf{east: []string{"0", "30", "50"}, inverts: [][2]string{{"10.000", "9.700"}, {"9.700", "9.500"}}, bore: "300", wall: "40"}

func TestRunRows(t *testing.T) {
	x := files{"n.xml": twoPipes.xml()}
	s := &setout(t, drainJob("pipes: [P1, P2], every: 12 m, bedding: 100 mm, traveller: 2.5 m", ""), x).Sheets[0]
	want := []string{"A 0.000 10.000 9.860 12.500", "12.000 9.880 9.740 12.380", "24.000 9.760 9.620 12.260", "B 30.000 9.700 9.560 12.200", "36.000 9.640 9.500 12.140", "48.000 9.520 9.380 12.020", "C 50.000 9.500 9.360 12.000"}
	assert.Equal(t, want, figures(s, unit.M, chainage, invert, trench, rail))
	assert.Equal(t, "P1, P2", s.Rows[3].Pipe, "the pipes meet without a step")
	assert.Equal(t, "pipes P1 and P2 of N, from A down to C; chainage from A", s.What)
	assert.Equal(t, "2026-03-04", s.Date)
	assert.Contains(t, strings.Join(s.Remarks, "\n"), "P1, P2 falls 1 in 100 (1.000 %) downstream, bore 300 mm, wall 40 mm.")
	assert.Contains(t, strings.Join(s.Remarks, "\n"), "Dig is not known: the job gives no ground.")
	assert.Empty(t, s.Warnings)

	s = &setout(t, drainJob("pipes: [P1, P2], chainageFrom: downstream, every: 12 m", ""), x).Sheets[0]
	assert.Equal(t, []string{"C 0.000 9.500", "12.000 9.620", "B 20.000 9.700", "24.000 9.740", "36.000 9.860", "48.000 9.980", "A 50.000 10.000"}, figures(s, unit.M, chainage, invert))
	assert.Equal(t, []string{"Bottom of the trench: not known; the job gives no bedding."}, s.Warnings)

	s = &setout(t, drainJob("pipes: [P1, P2], from: 5 m, to: 31 m, every: 10 m", ""), x).Sheets[0]
	assert.Equal(t, []string{"5.000 9.950", "15.000 9.850", "25.000 9.750", "B 30.000 9.700", "31.000 9.690"}, figures(s, unit.M, chainage, invert))

	s = &setout(t, drainJob("pipes: [P2], every: 10 m, traveller: 2 m, travellerOn: trenchBottom, bedding: 0 mm", ""), x).Sheets[0]
	assert.Equal(t, []string{"B 0.000 9.660 11.660", "10.000 9.560 11.560", "C 20.000 9.460 11.460"}, figures(s, unit.M, chainage, trench, rail))
}

// Where the inverts step in a pit both pipes have their row; where they are at
// the inner faces, no invert is made up inside the pit.
func TestRunThroughPits(t *testing.T) {
	d := twoPipes
	d.inverts = [][2]string{{"10.000", "9.700"}, {"9.600", "9.400"}}
	s := &setout(t, drainJob("pipes: [P1, P2], every: 100 m", ""), files{"n.xml": d.xml()}).Sheets[0]
	assert.Equal(t, []string{"A 0.000 10.000", "B, P1 30.000 9.700", "B, P2 30.000 9.600", "C 50.000 9.400"}, figures(s, unit.M, chainage, invert))

	d.size = "1000"
	text := strings.Replace(drainJob("pipes: [P1, P2], from: 29.8 m, to: 30.3 m, every: 0.1 m", ""), "invertsAt: centre", "invertsAt: innerFace", 1)
	s = &setout(t, text, files{"n.xml": d.xml()}).Sheets[0]
	assert.Equal(t, []string{"in B 29.800 -", "in B 29.900 -", "in B 30.100 -", "in B 30.200 -", "in B 30.300 -"}, figures(s, unit.M, chainage, invert))
	assert.Equal(t, []string{"inside a pit: no pipe here"}, s.Rows[0].Remarks)
	text = strings.Replace(drainJob("pipes: [P1, P2], every: 100 m", ""), "invertsAt: centre", "invertsAt: innerFace", 1)
	s = &setout(t, text, files{"n.xml": d.xml()}).Sheets[0]
	assert.Equal(t, []string{"A, inner face 0.500 10.000", "B, inner face 29.500 9.700", "B, inner face 30.500 9.600", "C, inner face 49.500 9.400"}, figures(s, unit.M, chainage, invert))
}

// What the design does not give is said, and never made up.
func TestRunSaysWhatIsNotKnown(t *testing.T) {
	bare := drainOf{east: []string{"0", "30"}, inverts: [][2]string{{"10.000", "9.700"}}}
	res := setout(t, drainJob("pipes: [P1], every: 10 m, bedding: 100 mm, traveller: 2 m, travellerOn: trenchBottom", ""), files{"n.xml": bare.xml()})
	s := &res.Sheets[0]
	assert.Equal(t, []string{"A - -", "- -", "- -", "B - -"}, figures(s, unit.M, trench, rail))
	assert.Contains(t, s.Warnings[0], "Bottom of the trench: not known for P1; the design gives no wall, nor does the job")
	assert.Contains(t, s.Warnings[1], "Sight rail: not known")
	assert.Contains(t, strings.Join(s.Remarks, "\n"), "bore not given, wall not given")
	require.Len(t, res.Problems, 2)
	assert.Contains(t, res.Problems[0].String(), "job.yaml:10:67: run: Bottom of the trench")

	res = setout(t, drainJob("pipes: [P1], every: 10 m, bedding: 100 mm, wall: 12 mm", ""), files{"n.xml": bare.xml()})
	assert.Empty(t, res.Problems)
	assert.Equal(t, "A 9.888", figures(&res.Sheets[0], unit.M, trench)[0])
	assert.Contains(t, strings.Join(res.Sheets[0].Remarks, "\n"), "The wall of P1, 12 mm, is from the job; the design gives none.")
	res = setout(t, drainJob("pipes: [P1], every: 10 m, bedding: 100 mm, wall: 12 mm", ""), files{"n.xml": twoPipes.xml()})
	assert.Equal(t, "A 9.860", figures(&res.Sheets[0], unit.M, trench)[0])
	assert.Contains(t, strings.Join(res.Sheets[0].Remarks, "\n"), "The wall of P1 is that of the design; the 12 mm of the job is not used.")

	level := drainOf{east: []string{"0", "30"}, inverts: [][2]string{{"10.000", "10.000"}}}
	text := drainJob("pipes: [P1], every: 10 m", "")
	res = setout(t, text, files{"n.xml": level.xml()})
	assert.Empty(t, res.Sheets[0].Rows)
	assert.Contains(t, res.Sheets[0].Why, "its two design inverts are equal")
	res = setout(t, strings.Replace(text, "invertsAt: centre", "flow: {P1: B}", 1), files{"n.xml": level.xml()})
	assert.Len(t, res.Sheets[0].Rows, 4)
	assert.Contains(t, res.Sheets[0].Remarks[0], "P1 is level: its two inverts are equal")

	for keys, why := range map[string]string{
		"pipes: [P9], every: 1 m":             `the network "N" has no pipe "P9"`,
		"pipes: [P2, P1], every: 1 m":         "follow each other downstream; list the pipes from upstream to downstream",
		"pipes: [P1], to: 31 m, every: 1 m":   "the run is 30.000 m long from pit to pit",
		"pipes: [P1], from: 31 m, every: 1 m": "the chainages asked for go beyond it",
		"pipes: [P1], every: 0.001 m":         "makes 30000 rows, more than the 10000",
	} {
		res := setout(t, drainJob(keys, ""), files{"n.xml": twoPipes.xml()})
		assert.Contains(t, res.Sheets[0].Why, why)
		assert.Empty(t, res.Sheets[0].Rows)
		require.Len(t, res.Problems, 1)
		assert.Contains(t, res.Problems[0].String(), "job.yaml:10:")
	}
	broken := setout(t, drainJob("pipes: [P1], every: 10 m", ""), files{"n.xml": strings.Replace(twoPipes.xml(), `name="N"`, `name="M"`, 1)})
	assert.Contains(t, broken.Sheets[0].Why, "could not be read")
	assert.Len(t, broken.Problems, 1, "said once, at the design")
}

const railLaser = "benchMarks:\n  - {name: BM1, level: 10.500 m, easting: 0 m, northing: 0 m, source: s, date: 2026-01-01}\n" +
	"laserSetups:\n  - {name: L1, date: 2026-03-05, mark: BM1, reading: 1.500 m, grade: -1 %, bearing: 90 deg}\n"

// The plane is 12.000 at A and falls as the pipe does: a staff on the invert reads
// 2.000 everywhere, on the bottom of the trench 2.140. A receiver 2.200 over the
// edge stands 0.060 over the plane.
func TestRunOnALaserPlane(t *testing.T) {
	x := files{"n.xml": twoPipes.xml()}
	keys := "pipes: [P1, P2], every: 20 m, bedding: 100 mm, laser: L1, receiver: 2.2 m"
	res := setout(t, drainJob(keys, railLaser), x)
	s := &res.Sheets[0]
	assert.Equal(t, []string{"A 2.000 0.060", "2.000 0.060", "B 2.000 0.060", "2.000 0.060", "C 2.000 0.060"}, figures(s, unit.M, staff, receiver))
	assert.Equal(t, 2140*unit.Millimetre, s.Rows[1].StaffTrench.L)
	assert.Contains(t, strings.Join(s.Remarks, "\n"), "The plane runs with the design")
	assert.Equal(t, "2026-03-05", s.Date, "that of the set-up")
	assert.Equal(t, "L1, set up 2026-03-05; BM1 10.500 m + staff 1.500 m = plane 12.000 m there; along grid bearing 90.0000° falls 1 in 100 (1.000 %), level across", s.Plane)
	assert.Contains(t, strings.Join(s.Warnings, "\n"), "The plane is not proved")
	assert.Empty(t, res.Problems)

	// half the grade: 0.250 more over 50 m
	s = &setout(t, drainJob(keys, strings.Replace(railLaser, "-1 %", "-0.5 %", 1)), x).Sheets[0]
	assert.Equal(t, []string{"A 2.000", "2.100", "B 2.150", "2.200", "C 2.250"}, figures(s, unit.M, staff))
	assert.Contains(t, strings.Join(s.Warnings, "\n"), "from 2.000 m at A to 2.250 m at C. Use the reading of each row.")

	// out of reach of the staff, and under the invert
	s = &setout(t, drainJob(keys, strings.Replace(railLaser, "-1 %", "10 %", 1)), x).Sheets[0]
	assert.Empty(t, s.Rows[0].Remarks)
	assert.Equal(t, "C 7.500", figures(s, unit.M, staff)[4])
	assert.Equal(t, "a staff of 5.000 m on the invert does not reach the plane: move the laser", s.Rows[4].Remarks[0])
	s = &setout(t, drainJob(keys, "levelling: {staff: 2.1 m}\n"+railLaser), x).Sheets[0]
	assert.Equal(t, []string{"a staff of 2.100 m on the bottom of the trench does not reach the plane: move the laser"}, s.Rows[0].Remarks)
	s = &setout(t, drainJob(keys, strings.Replace(railLaser, "1.500 m", "-0.501 m", 1)), x).Sheets[0]
	assert.Equal(t, []string{"the plane is below the invert: no staff reading, raise or move the laser"}, s.Rows[0].Remarks)
	assert.Equal(t, "A -0.001", figures(s, unit.M, staff)[0])
	s = &setout(t, drainJob(keys, strings.Replace(railLaser, "1.500 m", "-0.500 m", 1)), x).Sheets[0]
	assert.Empty(t, s.Rows[0].Remarks, "the plane on the invert reads nought")

	// a set-up outside its limit, one without a place, one that is turned
	closing := strings.Replace(railLaser, "bearing: 90 deg", "bearing: 90 deg, closing: {reading: 1.504 m}", 1) + "laserLimits: {level: 3 mm, source: s}\n"
	res = setout(t, drainJob(keys, closing), x)
	assert.Contains(t, res.Sheets[0].Warnings[0], "The laser set-up L1 must not be used: closing on BM1 is outside its limit.")
	assert.Len(t, res.Problems, 1)
	res = setout(t, drainJob(keys, strings.Replace(closing, "1.504", "1.503", 1)), x)
	assert.Empty(t, res.Sheets[0].Warnings)
	res = setout(t, drainJob(keys, strings.Replace(railLaser, "easting: 0 m, northing: 0 m, ", "", 1)), x)
	assert.Contains(t, res.Sheets[0].Warnings[0], "No staff reading is known: the mark BM1 has no place")
	assert.False(t, res.Sheets[0].Rows[0].Plane.Set)
	assert.Len(t, res.Problems, 1)
	turned := strings.Replace(railLaser, "bearing: 90 deg", "bearing: 90 deg, across: 2 %, sightMark: {name: M, offset: 1 m, distance: 50 m}", 1)
	s = &setout(t, drainJob(keys, turned), x).Sheets[0]
	assert.Contains(t, strings.Join(s.Warnings, "\n"), "By its sight mark the laser is turned: its plane is off by up to -19.9 mm, at C.")
}

func TestGround(t *testing.T) {
	x := files{"n.xml": twoPipes.xml(), "g.csv": "Point,Chainage (m),Level (m),Run\nA,,11.360,\n,10,11.000,run\n,20.0004,11.1,\n,15,11.2,\n,10,11.000,\n,30,,\n,10,12,P1\n"}
	keys := "pipes: [P1], every: 10 m, bedding: 100 mm, traveller: 1.4 m, ground: {file: g.csv}"
	res := setout(t, drainJob(keys, ""), x)
	s := &res.Sheets[0]
	assert.Empty(t, res.Problems)
	assert.Equal(t, []string{"A 1.500 0.040", "1.240 0.300", "1.440 0.100", "B - -"}, figures(s, unit.M, dig, func(r *qa.SetoutRow) levels.Value { return r.RailOverGround }))
	assert.Equal(t, "g.csv:2:3", s.Rows[0].GroundAt)
	assert.Contains(t, strings.Join(s.Warnings, "\n"), "Of the ground in g.csv, 3 rows have no level, or are at no name or chainage of this sheet, and are not used.")
	assert.Contains(t, strings.Join(s.Remarks, "\n"), "The ground is not known at 1 of 4 rows.")

	s = &setout(t, drainJob(strings.Replace(keys, "1.4 m", "1.3 m", 1), ""), x).Sheets[0]
	assert.Equal(t, []string{"the rail is not above the ground: use a longer traveller"}, s.Rows[0].Remarks)
	x["g.csv"] = "Point,Chainage (m),Level (m)\nA,,9.859\n,10,11\n,10,11.001\n,10,11\n"
	res = setout(t, drainJob(keys, ""), x)
	assert.Equal(t, []string{"the ground is below the bottom of the trench"}, res.Sheets[0].Rows[0].Remarks)
	assert.Equal(t, []string{"two ground levels that differ: not known"}, res.Sheets[0].Rows[1].Remarks)
	assert.False(t, res.Sheets[0].Rows[1].Dig.Set)
	require.Len(t, res.Problems, 1)
	assert.Contains(t, res.Problems[0].String(), "g.csv:4:3: level: the ground at chainage 10.000 is 11.001 m here and 11.000 m at g.csv:3:3; keep one of them")
	x["g.csv"] = "Point,Chainage,Level\nA,,9.859\n"
	res = setout(t, drainJob(keys, ""), x)
	assert.NotEmpty(t, res.Problems, "no unit")
	res = setout(t, drainJob(strings.Replace(keys, "g.csv", "g.csv, unit: m", 1), ""), x)
	assert.True(t, res.Sheets[0].Rows[0].Ground.Set)

	// the triangle at 10.000 covers eastings from 0 to 100 where northing is 0
	s = &setout(t, drainJob("pipes: [P1], every: 10 m, bedding: 100 mm, ground: {surface: s}", ""), x).Sheets[0]
	assert.Equal(t, []string{"A 0.140", "0.240", "0.340", "B 0.440"}, figures(s, unit.M, dig))
}

// slope rises 1 in 10 to the east from 10.000 at zero, over a square of 100 m.
const slope = `<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2"><Units><Metric linearUnit="meter"/></Units><Surfaces><Surface name="S"><Definition surfType="TIN"><Pnts>` +
	`<P id="1">0 0 10</P><P id="2">100 0 10</P><P id="3">100 100 20</P><P id="4">0 100 20</P></Pnts><Faces><F>1 2 3</F><F>1 3 4</F></Faces></Definition></Surface></Surfaces></LandXML>`

func padJob(keys, more string) string {
	return setoutHead + more + "designs:\n  - {name: s, file: d.xml, surface: S}\nsetout:\n  - {name: pad, design: s, " + keys + "}\n"
}

func TestPad(t *testing.T) {
	x := files{"d.xml": slope, "p.csv": "Point,Easting (m),Northing (m)\nP1,10,10\nP2,100,100\nP3,101,5\nP4,,\n,,\n"}
	res := setout(t, padJob("offset: -0.450 m, points: {file: p.csv}, laser: L1, ground: {surface: s}", railLaser), x)
	s := &res.Sheets[0]
	// the plane falls 1 % from 12.000
	assert.Equal(t, []string{"P1 10.550 1.350 0.450", "P2 19.550 -8.550 0.450", "P3 - - -", "P4 - - -"}, figures(s, unit.M, invert, staff, dig))
	assert.Equal(t, []string{"the plane is below the pad: no staff reading, raise or move the laser"}, s.Rows[1].Remarks)
	assert.Equal(t, []string{"outside the design surface S: no level"}, s.Rows[2].Remarks)
	assert.Equal(t, []string{"no easting and northing in the peg list"}, s.Rows[3].Remarks)
	require.Len(t, res.Problems, 1)
	assert.Contains(t, res.Problems[0].Text, "No level is known at 2 of 4 points")
	assert.Equal(t, "surface S, with an offset of -0.450 m: minus is below it", s.What)
	assert.Equal(t, "face 1 of S", s.Rows[0].DesignAt)

	s = &setout(t, padJob("outline: true, spacing: 40 m", ""), x).Sheets[0]
	assert.Equal(t, []string{"C1 10.000", "C2 20.000", "C3 20.000", "C4 10.000"}, figures(s, unit.M, invert)[:4])
	require.Len(t, s.Rows, 4+9)
	e := func(r *qa.SetoutRow) levels.Value { return levels.Of(r.Place.E) }
	n := func(r *qa.SetoutRow) levels.Value { return levels.Of(r.Place.N) }
	assert.Equal(t, []string{"G1 0.000 0.000 10.000", "G2 40.000 0.000 14.000", "G3 80.000 0.000 18.000", "G4 0.000 40.000 10.000"}, figures(s, unit.M, e, n, invert)[4:8])

	res = setout(t, padJob("spacing: 0.1 m", ""), x)
	assert.Contains(t, res.Sheets[0].Why, "a grid of 0.100 m over this surface has more than the 10000 points")
	x["p.csv"] = "Point,Easting,Northing\nP1,10,10\n"
	res = setout(t, padJob("points: {file: p.csv}", ""), x)
	assert.NotEmpty(t, res.Problems)
	assert.Empty(t, res.Sheets[0].Rows)
}

// The grid counts from zero, wherever the job's origin is.
func TestPadGridCountsFromZero(t *testing.T) {
	far := slope
	for _, p := range [][2]string{{"100 100 20", "5871106.5 448205.5 20"}, {"100 0 10", "5871106.5 448192.5 10"}, {"0 100 20", "5871093.5 448205.5 20"}, {"0 0 10", "5871093.5 448192.5 10"}} {
		far = strings.Replace(far, p[0], p[1], 1)
	}
	res := setout(t, padJob("spacing: 7 m", ""), files{"d.xml": far})
	var at []string
	for _, r := range res.Sheets[0].Rows {
		at = append(at, res.Frame.Easting(r.Place, 0)+" "+res.Frame.Northing(r.Place, 0))
	}
	// 448196 = 64028 × 7, 5871096 = 838728 × 7
	assert.Equal(t, []string{"448196 5871096", "448203 5871096", "448196 5871103", "448203 5871103"}, at)
}

// For any straight drain: rail less traveller is the invert, dig and bottom of the
// trench add up to the ground, plane less reading is the invert, all exactly; the
// invert is the nearest count to the fraction; both directions of chainage have
// the same levels.
func TestSetoutIsExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		mm := func(what string, lo, hi int) (string, *big.Rat) {
			n := rapid.IntRange(lo, hi).Draw(t, what)
			return fmt.Sprintf("%d.%03d", n/1000, n%1000), big.NewRat(int64(n), 1000)
		}
		k := rapid.IntRange(1, 60_000).Draw(t, "length") // of a 3-4-5 triangle, in mm
		us, usR := mm("us", 5000, 50_000)
		ds, dsR := mm("ds", 1000, 4999)
		trav, _ := mm("traveller", 1, 5000)
		bed, _ := mm("bedding", 0, 300)
		every, _ := mm("every", max(1, k/40), k+10_000)
		d := drainOf{east: []string{"0", fmt.Sprintf("%d.%03d", 4*k/1000, 4*k%1000)}, north: fmt.Sprintf("%d.%03d", 3*k/1000, 3*k%1000),
			inverts: [][2]string{{us, ds}}, bore: "225", wall: "21.5"}
		length := big.NewRat(int64(5*k), 1000)
		keys := "pipes: [P1], every: " + every + " m, bedding: " + bed + " m, traveller: " + trav + " m, laser: L1, ground: {surface: s}"
		text := drainJob(keys, railLaser)
		x := files{"n.xml": d.xml(), "d.xml": strings.NewReplacer("0 100 10", "0 1000 10", "100 0 10", "1000 0 10").Replace(flat)}
		s := &setout(t, text, x).Sheets[0]
		require.GreaterOrEqual(t, len(s.Rows), 2)
		dug := 0
		for i := range s.Rows {
			r := &s.Rows[i]
			require.Equal(t, r.Design.L, r.Rail.L-s.Of.Traveller.Length)
			require.Equal(t, r.Design.L, r.TrenchBottom.L+s.Of.Bedding.Length+21_500*unit.Micrometre)
			require.Equal(t, r.Plane.L, r.Design.L+r.StaffDesign.L)
			require.Equal(t, r.Plane.L, r.TrenchBottom.L+r.StaffTrench.L)
			if r.Ground.Set {
				dug++
				require.Equal(t, r.Ground.L, r.Dig.L+r.TrenchBottom.L)
				require.Equal(t, r.Rail.L, r.Ground.L+r.RailOverGround.L)
			}
			// us + (ds − us) × chainage / length, in counts
			want := new(big.Rat).Sub(dsR, usR)
			want.Mul(want, new(big.Rat).SetFrac64(int64(r.Chainage.L), 1))
			want.Quo(want, length)
			want.Add(want, new(big.Rat).Mul(usR, new(big.Rat).SetInt64(int64(unit.Metre))))
			off := want.Sub(want, new(big.Rat).SetInt64(int64(r.Design.L)))
			require.LessOrEqual(t, off.Abs(off).Cmp(big.NewRat(1, 2)), 0, "chainage %v", r.Chainage.L)
			if i > 0 {
				require.Greater(t, r.Chainage.L, s.Rows[i-1].Chainage.L)
				require.LessOrEqual(t, r.Chainage.L-s.Rows[i-1].Chainage.L, s.Of.Every.Length+unit.Millimetre)
			}
		}
		require.Positive(t, dug)
		total := s.Rows[len(s.Rows)-1].Chainage.L
		at := map[unit.Length]unit.Length{}
		for i := range s.Rows {
			at[s.Rows[i].Chainage.L] = s.Rows[i].Design.L
		}
		down := &setout(t, strings.Replace(text, "every:", "chainageFrom: downstream, every:", 1), x).Sheets[0]
		require.Len(t, down.Rows, len(s.Rows))
		for i := range down.Rows {
			if l, ok := at[total-down.Rows[i].Chainage.L]; ok {
				require.Equal(t, l, down.Rows[i].Design.L)
			}
		}
	})
}

func TestSetoutNeedsSheetsAndFiles(t *testing.T) {
	j, err := job.Load("job.yaml", []byte(drainJob("pipes: [P1], every: 1 m", "surveys: [{file: later.csv, kind: points}]\n")), checks.Kinds())
	require.NoError(t, err)
	_, err = qa.Setout(j, files{"d.xml": flat}, "test")
	require.Error(t, err)
	assert.Contains(t, err.Error(), `"n.xml": there is no such file`)
	_, err = qa.Setout(j, files{"d.xml": flat, "n.xml": twoPipes.xml()}, "test")
	assert.NoError(t, err, "a survey comes after the setting out")
	j.Setout = nil
	_, err = qa.Setout(j, files{}, "test")
	assert.ErrorContains(t, err, "the job has no set-out sheets")
}
