package landxml

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats"
)

// A quarter of a circle of 100 m that turns right, from the north of its centre
// to the east of it: 157.08 m.
const quarter = `<Curve rot="cw" radius="100" length="157.0796"><Start>1100 500</Start><Center>1000 500</Center><End>1000 600</End><PI>1100 600</PI></Curve>`

// transition is a clothoid of 80 m from a straight into a radius of 400 m that
// turns left. Its ends are those of its series, 79.920037 and 2.664763 (the
// sums totalX and totalY that a sample file of a road states for it).
const transition = `<Spiral length="80" radiusStart="INF" radiusEnd="400" rot="ccw" spiType="clothoid"><Start>0 0</Start><PI>0 53.3609</PI><End>2.664763 79.920037</End></Spiral>`

// agreeing holds that a geometry has no notes, and that each change of it has
// one note in the words given.
func agreeing(t *testing.T, whole string, changes map[string][3]string) {
	t.Helper()
	_, notes := readAlignment(t, whole)
	assert.Empty(t, notes)
	for name, c := range changes {
		t.Run(name, func(t *testing.T) {
			require.Contains(t, whole, c[0])
			_, notes := readAlignment(t, strings.Replace(whole, c[0], c[1], 1))
			assert.Contains(t, notes, c[2])
			others := 0 // but for the length of the whole, which follows
			for _, n := range strings.Split(strings.TrimSpace(notes), "\n") {
				if !strings.Contains(n, c[2]) && !strings.Contains(n, "alignment A: its length is stated as") {
					others++
				}
			}
			assert.Zero(t, others, notes)
		})
	}
}

func sized(length, body string) string {
	return strings.Replace(geometry(body), `length="20"`, `length="`+length+`"`, 1)
}

func TestLinesAgree(t *testing.T) {
	agreeing(t, geometry(`<Line length="20" staStart="100"><Start>1000 500</Start><End>1012 516</End></Line>`), map[string][3]string{
		"length":        {`<Line length="20"`, `<Line length="20.01"`, "the length of the line is stated as 20.01, and is 20.0000 by its places: 0.0100 m apart"},
		"station":       {`staStart="100"><Start>`, `staStart="101"><Start>`, "the line is said to begin at 101, and lies at 100.0000 by the elements before: 1.0000 m apart"},
		"the alignment": {`length="20">`, `length="19.9">`, "its length is stated as 19.9, and its elements are 20.0000 long: 0.1000 m apart"},
	})
	whole := sized("40", `<Line><Start>0 0</Start><End>0 20</End></Line><Line staStart="120"><Start>0 20</Start><End>0 40</End></Line>`)
	agreeing(t, whole, map[string][3]string{
		"gap":     {"<Start>0 20</Start>", "<Start>0.5 20</Start>", "the line begins 0.5000 m from where the line before it ends"},
		"station": {`"120"`, `"119"`, "the line is said to begin at 119, and lies at 120.0000"},
	})
}

// Differences that the tolerance or the decimals of the file allow are none.
func TestToleranceOfComparisons(t *testing.T) {
	for length, notes := range map[string]int{"20.0009": 0, "20.00101": 1, "19.9991": 0, "20.006": 1, "20.01": 1, "20.1": 1, "20.0": 0} {
		_, text := readAlignment(t, strings.Replace(geometry(`<Line length="`+length+`"><Start>0 0</Start><End>0 20</End></Line>`), "\n", "", -1))
		assert.Equal(t, notes, strings.Count(text, "the length of the line"), length+text)
	}
	// a file with centimetres knows lengths no better than that
	_, text := readAlignment(t, geometry(`<Line length="20.00"><Start>0.00 0.00</Start><End>0.00 20.01</End></Line>`))
	assert.NotContains(t, text, "the length of the line")
	// in feet the tolerance is as long
	for length, notes := range map[string]int{"20.0032": 0, "20.0035": 1} {
		d := read(t, root+units("Imperial", `linearUnit="USSurveyFoot"`)+geometry(`<Line length="`+length+`"><Start>0 0</Start><End>0 20</End></Line>`)+"</LandXML>")
		assert.Equal(t, notes, strings.Count(texts(d.Notes), "the length of the line"), length)
	}
}

func TestCurvesAgree(t *testing.T) {
	agreeing(t, sized("157.0796", quarter), map[string][3]string{
		"radius":              {`radius="100"`, `radius="100.5"`, "the radius of the curve is stated as 100.5, and is 100.0000 from its centre to its start: 0.5000 m apart"},
		"centre":              {`length="157.0796"><Start>1100 500</Start><Center>1000 500</Center><End>1000 600</End><PI>1100 600</PI>`, `><Start>1100 500</Start><Center>1000 500</Center><End>1000 601</End>`, "the end of the curve is 101.0000 from its centre, and the start 100.0000: 1.0000 m apart"},
		"rotation":            {`rot="cw"`, `rot="ccw"`, "the curve is said to turn ccw, and by its places and its length of 157.0796 it turns the other way; that way it is 471.2389 long: 314.1593 m apart"},
		"length":              {`<Curve rot="cw" radius="100" length="157.0796"`, `<Curve rot="cw" radius="100" length="158"`, "the length of the curve is stated as 158, and is 157.0796 by its places: 0.9204 m apart"},
		"intersection":        {`<PI>1100 600`, `<PI>1100.25 600`, "the intersection point (PI) of the curve is off the tangent at its start by 0.2500 m"},
		"no length, no doubt": {`rot="cw" radius="100" length="157.0796"`, `rot="ccw" radius="100"`, "the curve is said to turn ccw, which way it turns by 270.0000 degrees; the other way it turns by 90.0000, and no length says which is meant"},
		"no rotation":         {`rot="cw" `, ``, "curves and spirals that do not say which way they turn (rot): 1"},
	})
}

// Of a curve longer than half a circle the length says that the long way round
// is meant.
func TestLongArc(t *testing.T) {
	_, notes := readAlignment(t, sized("471.2389", strings.NewReplacer("157.0796", "471.2389", `"cw"`, `"ccw"`, `<PI>1100 600</PI>`, "").Replace(quarter)))
	assert.Empty(t, notes)
}

// A length by chords is not that of the arc, and is not compared.
func TestLengthByChords(t *testing.T) {
	_, notes := readAlignment(t, sized("157.0796", strings.Replace(quarter, `length="157.0796"`, `length="156.9" crvType="chord"`, 1)))
	assert.Empty(t, notes)
}

func TestSpiralsAgree(t *testing.T) {
	after := `<Curve rot="ccw" radius="400" length="40"><Start>2.664763 79.920037</Start><Center>400.666429 39.986670</Center><End>8.639798 119.454402</End></Curve>`
	before := `<Line><Start>0 -10</Start><End>0 0</End></Line>`
	agreeing(t, sized("130", before+transition+after), map[string][3]string{
		"length, by its chord":   {`Spiral length="80"`, `Spiral length="80.2"`, "a clothoid of the length 80.2 with these radii has a chord of 80.1642, and its places are 79.9645 from each other: 0.1997 m apart"},
		"rotation":               {`rot="ccw" spiType`, `rot="cw" spiType`, "the spiral is said to turn cw, and by its places it turns the other way: its intersection point (PI) is 1.7782 m on the other side of its chord"},
		"radius at the curve":    {`radiusEnd="400"`, `radiusEnd="401"`, "the radius at the end of the spiral is 401, and the curve behind it has 400.0"},
		"radius at the line":     {`radiusStart="INF"`, `radiusStart="9999999"`, "the radius at the start of the spiral is 9999999, and the line before it is straight there"},
		"no radius at the curve": {`radiusEnd="400" `, ` `, "so that they cannot be computed: 1 of 3"},
	})
	_, notes := readAlignment(t, sized("130", before+strings.Replace(transition, `"400"`, `"INF"`, 1)+after))
	assert.Contains(t, notes, "the radius at the end of the spiral is infinite, and the curve behind it has 400.0")
	_, notes = readAlignment(t, geometry(strings.Replace(transition, `"80"`, `"99999"`, 1)))
	assert.Contains(t, notes, "turns more than twice round; it cannot be compared with its places")
	two := transition + `<Spiral length="80" radiusStart="300" radiusEnd="INF" rot="ccw" spiType="clothoid"><Start>2.664763 79.920037</Start><PI/><End/></Spiral>`
	_, notes = readAlignment(t, geometry(two))
	assert.Contains(t, notes, "the radius at the end of the spiral is 400, and the spiral behind it has 300.0000: 100.0000 m apart")
}

// The chord of a clothoid against the series of the text books for it
// (x = L(1 - θ²/10 + θ⁴/216), y = L(θ/3 - θ³/42 + θ⁵/1320), θ = L/2R; common
// practice), and an arc as the clothoid of one radius.
func TestClothoidChord(t *testing.T) {
	for _, c := range [][2]float64{{80, 400}, {100, 200}, {30, 1000}} {
		l, th := c[0], c[0]/(2*c[1])
		x, y := l*(1-th*th/10+math.Pow(th, 4)/216), l*(th/3-math.Pow(th, 3)/42+math.Pow(th, 5)/1320)
		assert.InDelta(t, math.Hypot(x, y), clothoidChord(0, 1/c[1], l), 1e-5)
		assert.InDelta(t, clothoidChord(0, 1/c[1], l), clothoidChord(1/c[1], 0, l), 1e-9)
	}
	assert.InDelta(t, math.Hypot(79.920037028491, 2.664762510717), clothoidChord(0, 1.0/400, 80), 1e-8)
	assert.InDelta(t, 2*100*math.Sin(0.25), clothoidChord(0.01, 0.01, 50), 1e-9)
	assert.Equal(t, 50.0, clothoidChord(0, 0, 50))
}

func TestIrregularLinesAgree(t *testing.T) {
	agreeing(t, geometry(`<IrregularLine length="20"><Start>0 0</Start><End>12 8</End><PntList2D>0 0 12 0 12 8</PntList2D></IrregularLine>`), map[string][3]string{
		"ends":   {`Line length="20"><Start>0 0</Start><End>12 8</End><PntList2D>0 0`, `Line><Start>0 0</Start><End>12 8</End><PntList2D>0.2 0`, "the list of points of the irregular line does not begin and end where the line does: 0.2000 m apart"},
		"length": {`Line length="20"`, `Line length="21"`, "the length of the irregular line is stated as 21, and is 20.0000 by its places: 1.0000 m apart"},
	})
}

func TestEquationsAgree(t *testing.T) {
	whole := sized("40", `<Line><Start>0 0</Start><End>0 40</End></Line>`)
	with := func(q string) string { return strings.Replace(whole, "</CoordGeom>", "</CoordGeom>"+q, 1) }
	// what ends at the second is counted on from the first: 500 and 10 more
	agreeing(t, with(`<StaEquation staInternal="110" staBack="110" staAhead="500"/><StaEquation staInternal="120" staBack="510" staAhead="900" staIncrement="decreasing"/><StaEquation staInternal="130" staBack="890" staAhead="7"/>`), map[string][3]string{
		"internal for back": {`staBack="510"`, `staBack="120"`, "the station equation at 120 says that station 120 ends there, and counted on from the equation before it is 510.0000: 390.0000 m apart"},
		"first":             {`staBack="110"`, `staBack="111"`, "says that station 111 ends there, and counted on from the equation before it is 110.0000: 1.0000 m apart"},
		"counting down":     {`staBack="890"`, `staBack="910"`, "says that station 910 ends there, and counted on from the equation before it is 890.0000: 20.0000 m apart"},
		"out of the way":    {`staInternal="130" staBack="890"`, `staInternal="145"`, "the station equation at 145 is not on the alignment, which goes from 100.0000 to 140.0000"},
		"order":             {`staInternal="130" staBack="890"`, `staInternal="115"`, "the station equation at 115 stands behind the one at 120; they are not in their order"},
	})
}

func TestProfilesAgree(t *testing.T) {
	profile := func(s string) string {
		return sized("200", `<Line><Start>0 0</Start><End>0 200</End></Line></CoordGeom><Profile><ProfAlign name="P">`+s+`</ProfAlign></Profile><CoordGeom>`)
	}
	one := func(s string) string {
		a, notes := readAlignment(t, profile(s))
		require.Len(t, a.Profiles, 1)
		var out []string
		for _, n := range strings.Split(notes, "\n") {
			if n != "" && !strings.Contains(n, "2 parts") {
				out = append(out, n)
			}
		}
		return strings.Join(out, "\n")
	}
	const first, last = `<PVI>100 10</PVI>`, `<PVI>300 10</PVI>`
	assert.Empty(t, one(first+`<ParaCurve length="60">150 12</ParaCurve><UnsymParaCurve lengthIn="20" lengthOut="40">200 10</UnsymParaCurve>`+last))
	for s, want := range map[string]string{
		first + `<PVI>310 11</PVI>`:                       `the profile "P" goes on 10.0000 m behind the end of the alignment`,
		`<PVI>90 11</PVI>` + last:                         `the profile "P" begins 10.0000 m before the alignment does`,
		first + `<PVI>160 1</PVI><PVI>150 2</PVI>` + last: `the profile "P" goes back from station 160 to 150: 10.0000 m`,
		`<ParaCurve length="5">100 10</ParaCurve>` + last: `the profile "P" begins or ends with a vertical curve at 100`,
		first + `<ParaCurve length="60">150 12</ParaCurve><ParaCurve length="50">200 10</ParaCurve>` + last: `the points of intersection at 150 and 200 are too close for their vertical curves, which overlap by 5.0000 m`,
		first + `<UnsymParaCurve lengthIn="51" lengthOut="9">150 12</UnsymParaCurve>` + last:                `the points of intersection at 100 and 150 are too close for their vertical curves, which overlap by 1.0000 m`,
		first + `<CircCurve length="30" radius="1000">200 14</CircCurve>` + last:                            `stated as 30, and by its radius and its grades it is 79.9574 along the arc and 79.9361 horizontally: 49.9361 m apart; the radius holds`,
		first + `<CircCurve length="79.9574" radius="-1000">200 6</CircCurve>` + last:                       `has the radius -1000, which says a crest, and its grades make a sag; the grades hold`,
		first + `<CircCurve radius="3000">200 14</CircCurve><PVI>300 10</PVI><PVI>300 10</PVI>`:             `the points of intersection at 100 and 200 are too close for their vertical curves, which overlap by 19.9041 m`,
	} {
		got := one(s)
		assert.Contains(t, got, want)
		if !strings.Contains(want, "19.9041") {
			assert.NotContains(t, got, "\n", "one note and no more")
		}
	}
	// an overlap that rounding leaves is none
	assert.Empty(t, one(first+`<ParaCurve length="100.002">150.000 12</ParaCurve><PVI>250 1</PVI>`+last))
}

func TestSectionsOffTheAlignment(t *testing.T) {
	_, notes := readAlignment(t, strings.Replace(geometry(north), "</CoordGeom>", `</CoordGeom><CrossSects><CrossSect sta="99"/><CrossSect sta="120.0004"/><CrossSect sta="121"/></CrossSects>`, 1))
	assert.Contains(t, notes, "cross sections at stations that are not on the alignment: 2 of 3")
}

// Geometry that makes no sense is named, and nothing breaks on it.
func TestGeometryOfNoSize(t *testing.T) {
	same := `<Start>5 5</Start><Center>5 5</Center><PI>5 5</PI><End>5 5</End>`
	for _, rot := range []string{"cw", "ccw", ""} {
		for _, length := range []string{"0", "-5", "7", "999999999999999999"} {
			a, notes := readAlignment(t, geometry(`<Curve rot="`+rot+`" length="`+length+`">`+same+`</Curve><Spiral rot="`+rot+`" length="`+length+`" radiusStart="0.000000001" radiusEnd="-1" spiType="clothoid">`+same+`</Spiral>`+
				`</CoordGeom><Profile><ProfAlign name="P"><PVI>5 5</PVI><CircCurve radius="0" length="`+length+`">5 5</CircCurve><CircCurve radius="-9" length="1">5 6</CircCurve><PVI>5 5</PVI></ProfAlign></Profile><CoordGeom>`))
			assert.Len(t, a.Elements, 2)
			assert.NotContains(t, notes, "NaN")
			assert.Equal(t, formats.Place{N: a.Elements[0].Start.N, E: a.Elements[0].Start.E, Placed: true, Row: a.Elements[0].Start.Row, Col: a.Elements[0].Start.Col}, a.Elements[0].Start)
		}
	}
}
