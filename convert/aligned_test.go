package convert

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/convert/align"
	"sightrail/formats"
	"sightrail/formats/fixture"
	"sightrail/formats/landxml"
	"sightrail/formats/unit"
)

// alignmentFile is a LandXML file with one alignment of these parts.
func alignmentFile(t *testing.T, parts string) *formats.Alignment {
	t.Helper()
	text := `<?xml version="1.0"?><LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2" date="2026-03-02" time="08:00:00"><Units><Metric linearUnit="meter" areaUnit="squareMeter" volumeUnit="cubicMeter" temperatureUnit="celsius" pressureUnit="milliBars"/></Units><Alignments><Alignment name="A" length="100" staStart="0">` + parts + `</Alignment></Alignments></LandXML>`
	d, err := landxml.Format.Decode(strings.NewReader(text), "a.xml", formats.Options{})
	require.NoError(t, err)
	require.Empty(t, d.Problems)
	require.Len(t, d.Alignments, 1)
	return &d.Alignments[0]
}

const (
	oneLine  = `<CoordGeom><Line length="100"><Start>0 0</Start><End>100 0</End></Line></CoordGeom>`
	levelOne = `<Profile><ProfAlign name="P"><PVI>0 10</PVI><PVI>100 10</PVI></ProfAlign></Profile>`
)

// What cannot be used is told, and nothing is made.
func TestAlignmentThatCannotBe(t *testing.T) {
	f := &Frame{Unit: unit.M}
	for name, x := range map[string]struct {
		parts string
		o     AlignmentOptions
		want  string
	}{
		"no profile":          {oneLine, AlignmentOptions{}, "it has no design profile, and no level can be told without one"},
		"another profile":     {oneLine + levelOne, AlignmentOptions{Profile: "Q"}, "it has no design profile \"Q\"; it has \"P\""},
		"two profiles":        {oneLine + strings.ReplaceAll(levelOne, "</ProfAlign>", `</ProfAlign><ProfAlign name="R"><PVI>0 10</PVI><PVI>100 10</PVI></ProfAlign>`), AlignmentOptions{}, "it has 2 design profiles, and the job names none of them; add \"profile:\", it has \"P\", \"R\""},
		"no elements":         {levelOne, AlignmentOptions{}, "it has no lines and curves in plan"},
		"a gap":               {`<CoordGeom><Line length="50"><Start>0 0</Start><End>50 0</End></Line><Line length="50"><Start>50.1 0</Start><End>100 0</End></Line></CoordGeom>` + levelOne, AlignmentOptions{}, "element"},
		"a curve of its own":  {`<CoordGeom><Spiral length="100" radiusStart="INF" radiusEnd="200" rot="cw" spiType="bloss"><Start>0 0</Start><PI>66 0</PI><End>99 8</End></Spiral></CoordGeom>` + levelOne, AlignmentOptions{}, "a transition curve of the kind \"bloss\"; only clothoids are known here"},
		"no such sections":    {oneLine + levelOne, AlignmentOptions{Sections: "FG"}, "its cross sections have no surface \"FG\"; they have none at all"},
		"sections are skewed": {oneLine + levelOne + `<CrossSects><CrossSect sta="0" angleSkew="80"><CrossSectSurf name="FG"><PntList2D>-1 9 1 9</PntList2D></CrossSectSurf></CrossSect></CrossSects>`, AlignmentOptions{Sections: "FG", Between: align.ByOffset, Levels: align.Absolute}, "is not square to the alignment"},
	} {
		s, problems := NewAlignmentSurface("s", alignmentFile(t, x.parts), x.o, unit.M, f)
		assert.Nil(t, s, name)
		assert.Contains(t, texts(problems), x.want, name)
	}
}

// A place beside an alignment that comes back on itself belongs to two stretches of it,
// and has no level unless only one of them reaches it.
func TestPlaceBesideTwoStretches(t *testing.T) {
	hairpin := `<CoordGeom><Line length="50"><Start>0 0</Start><End>50 0</End></Line><Curve rot="cw" radius="5" length="15.70796327"><Start>50 0</Start><Center>50 5</Center><End>50 10</End></Curve><Line length="50"><Start>50 10</Start><End>0 10</End></Line></CoordGeom>`
	profile := `<Profile><ProfAlign name="P"><PVI>0 10</PVI><PVI>120 16</PVI></ProfAlign></Profile>`
	f := &Frame{Unit: unit.M}
	at := func(e, n int64) *Shot {
		return &Shot{Place: Place{E: unit.Length(e) * unit.Metre, N: unit.Length(n) * unit.Metre}, Placed: true}
	}
	s, problems := NewAlignmentSurface("s", alignmentFile(t, hairpin+profile), AlignmentOptions{Reach: 9 * unit.Metre}, unit.M, f)
	require.Empty(t, problems)
	_, _, why := s.At(at(4, 20))
	assert.Equal(t, "it lies beside the alignment A in 2 ways: at ch 20.000, 4.000 right and at ch 95.708, 6.000 right; which of them it belongs to is not plain", why)
	z, from, why := s.At(at(-4, 20))
	assert.Empty(t, why)
	assert.Equal(t, "11.000 ch 20.000, 4.000 left of A", z.Exact(unit.M, 3)+" "+from)
	_, _, why = s.At(at(-4, 70))
	assert.Contains(t, why, "it lies further than 9.000 m from the alignment A")
	_, _, why = s.At(at(0, -3))
	assert.Equal(t, "it lies 3.000 m before the start of the alignment A", why)
}

// Stations are those the file shows, behind an equation; slopes are those of the sides.
func TestStationsAndSlopesOfAnAlignment(t *testing.T) {
	equation := `<StaEquation staInternal="40" staAhead="1040" staBack="40"/>`
	climbing := `<Profile><ProfAlign name="P"><PVI>0 10</PVI><PVI>100 85</PVI></ProfAlign></Profile>`
	f := &Frame{Unit: unit.M}
	s, problems := NewAlignmentSurface("s", alignmentFile(t, oneLine+equation+climbing), AlignmentOptions{Reach: unit.Metre}, unit.M, f)
	require.Empty(t, problems)
	shot := &Shot{Place: Place{N: 60 * unit.Metre}, Placed: true}
	z, from, _ := s.At(shot)
	assert.Equal(t, "55.000 station 1060.000 after equation 1 of A", z.Exact(unit.M, 3)+" "+from)
	// a slope of 3 in 4: 100 mm square to it are 125 mm vertically
	up, why := s.Raised(shot, -100*unit.Millimetre)
	assert.Empty(t, why)
	assert.Equal(t, "-125", up.Exact(unit.MM, 0))
	slope, ok := s.SlopeAt(shot.Place)
	assert.True(t, ok)
	assert.InDelta(t, 0.75, slope, 1e-12)
	c, o, ok := s.Chain(shot)
	assert.True(t, ok)
	assert.Equal(t, "60.000 0.000", c.Exact(unit.M, 3)+" "+o.Exact(unit.M, 3))
	_, _, ok = s.Chain(&Shot{})
	assert.False(t, ok)
	assert.True(t, s.Along())

	// across, the side of the place counts, at the crown and at an edge
	fall := unit.Grade{Rise: -3 * unit.Metre, Run: 4 * unit.Metre}
	row := align.Crossfall{Left: fall, Right: fall, LeftEdge: align.Stated(5 * unit.Metre), RightEdge: align.Stated(5 * unit.Metre)}
	s, problems = NewAlignmentSurface("s", alignmentFile(t, oneLine+levelOne), AlignmentOptions{Crossfalls: []align.Crossfall{row}, AllAlong: true, Reach: 10 * unit.Metre}, unit.M, f)
	require.Empty(t, problems)
	for _, e := range []unit.Length{0, 5, -5, 2} {
		for _, n := range []unit.Length{0, 50, 100} {
			up, why = s.Raised(&Shot{Place: Place{E: e * unit.Metre, N: n * unit.Metre}, Placed: true}, 100*unit.Millimetre)
			assert.Empty(t, why)
			assert.Equal(t, "125", up.Exact(unit.MM, 0), "%d, %d", e, n)
		}
	}
}

// A shot that is booked by chainage and offset has no level where the alignment has no
// such station, has it twice, has ended, or the reach has.
func TestBookedOnAnAlignment(t *testing.T) {
	f := &Frame{Unit: unit.M}
	longer := `<Profile><ProfAlign name="P"><PVI>0 10</PVI><PVI>200 30</PVI></ProfAlign></Profile>`
	at := func(equation string, chainage, offset int64) string {
		s, problems := NewAlignmentSurface("s", alignmentFile(t, oneLine+equation+longer), AlignmentOptions{Reach: unit.Metre}, unit.M, f)
		require.Empty(t, problems)
		z, from, why := s.At(&Shot{Chainage: unit.Length(chainage) * unit.Metre, Offset: unit.Length(offset) * unit.Metre, Chained: true})
		if why != "" {
			return why
		}
		return z.Exact(unit.M, 3) + " " + from
	}
	assert.Equal(t, "12.000 ch 20.000, 1.000 right of A", at("", 20, 1))
	assert.Equal(t, "it lies further than 1.000 m from the alignment A", at("", 20, 10))
	assert.Equal(t, "chainage 150.000 is not on the alignment A, which runs from 0.000 to 100.000", at("", 150, 0))
	jump := `<StaEquation staInternal="50" staBack="50" staAhead="1000"/>`
	assert.Equal(t, "18.000 station 1030.000 after equation 1 of A", at(jump, 1030, 0))
	assert.Contains(t, at(jump, 80, 0), "is not on the alignment")
	assert.Contains(t, at(`<StaEquation staInternal="50" staBack="50" staAhead="10"/>`, 30, 0), "by the station equations of the alignment A:")
}

// Alignments of real files with their profiles as designs: a place of the line has the
// level of its chainage, all along.
func TestRealAlignmentsAsDesigns(t *testing.T) {
	for file, want := range map[string]int{"d06_alignment_arcs_profile.xml": 1, "d09_alignment_usft_bom.xml": 1, "d10_county_road_11_usft.xml": 2, "d11_subdivision_11_foot_pipes.xml": 6, "d20_azimuth_dir_clothoids.xml": 1} {
		t.Run(file, func(t *testing.T) {
			r, err := os.Open(fixture.Shared(t, "landxml", "files", file))
			require.NoError(t, err)
			defer r.Close()
			d, err := landxml.Format.Decode(r, file, formats.Options{})
			require.NoError(t, err)
			require.Len(t, d.Alignments, want)
			for i := range d.Alignments {
				a := &d.Alignments[i]
				f := &Frame{Unit: d.Units.Linear}
				e, n := a.Elements[0].Start.E.Float(), a.Elements[0].Start.N.Float()
				f.E0, f.N0 = int64(e), int64(n)
				b := &alignmentBuilder{of: a, unit: d.Units.Linear, frame: f, surface: &Surface{}}
				line := b.plan()
				require.Empty(t, b.problems, a.Name)
				for k := range a.Profiles {
					p := &a.Profiles[k]
					if p.Kind != "design" {
						continue
					}
					s, problems := NewAlignmentSurface(a.Name, a, AlignmentOptions{Profile: p.Name, Reach: unit.Metre}, d.Units.Linear, f)
					if s == nil { // two vertical curves of these profiles overlap
						require.Contains(t, texts(problems), "overlap", a.Name+" "+p.Name)
						continue
					}
					levels := 0
					for at := range 50 {
						c := line.Start() + (line.End()-line.Start())/50*unit.Length(at)
						place, _, err := line.At(c, 0)
						require.NoError(t, err)
						z, _, why := s.At(&Shot{Chainage: c, Chained: true})
						if why != "" {
							continue // the profile is shorter than the line
						}
						got, from, why := s.At(&Shot{Place: Place(place), Placed: true})
						require.Empty(t, why)
						require.Contains(t, from, a.Name)
						require.LessOrEqual(t, (got - z).Abs(), unit.Nanometre, "%s at %s", a.Name, c.Exact(unit.M, 3))
						levels++
					}
					require.Greater(t, levels, 5, a.Name)
				}
			}
		})
	}
}
