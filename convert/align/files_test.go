package align_test

import (
	"encoding/xml"
	"io"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/text/encoding/charmap"

	"sightrail/convert/align"
	"sightrail/formats/fixture"
	"sightrail/formats/unit"
)

// fileElement and fileAlignment are as much of LandXML as these tests need.
type fileElement struct {
	XMLName                xml.Name
	Length                 string `xml:"length,attr"`
	Radius                 string `xml:"radius,attr"`
	RadiusStart            string `xml:"radiusStart,attr"`
	RadiusEnd              string `xml:"radiusEnd,attr"`
	Rot                    string `xml:"rot,attr"`
	StaStart               string `xml:"staStart,attr"`
	Start, End, Center, PI string
	TotalX                 string `xml:"totalX,attr"`
	TotalY                 string `xml:"totalY,attr"`
}

type fileAlignment struct {
	Name     string `xml:"name,attr"`
	Length   string `xml:"length,attr"`
	StaStart string `xml:"staStart,attr"`
	Geometry struct {
		Elements []fileElement `xml:",any"`
	} `xml:"CoordGeom"`
	Profile struct {
		Lines []struct {
			Points []struct {
				XMLName   xml.Name
				Length    string `xml:"length,attr"`
				LengthIn  string `xml:"lengthIn,attr"`
				LengthOut string `xml:"lengthOut,attr"`
				Radius    string `xml:"radius,attr"`
				Text      string `xml:",chardata"`
			} `xml:",any"`
		} `xml:"ProfAlign"`
	} `xml:"Profile"`
}

func readAlignments(t *testing.T, name string) []fileAlignment {
	f, err := os.Open(fixture.Shared(t, "landxml", "files", name))
	require.NoError(t, err)
	defer f.Close()
	var file struct {
		Alignments []fileAlignment `xml:"Alignments>Alignment"`
	}
	d := xml.NewDecoder(f)
	d.CharsetReader = func(_ string, in io.Reader) (io.Reader, error) { return charmap.ISO8859_1.NewDecoder().Reader(in), nil }
	require.NoError(t, d.Decode(&file))
	return file.Alignments
}

// frameOf reads places relative to a whole northing and easting, in a unit.
type frameOf struct {
	t    *testing.T
	u    unit.Unit
	n, e int64
}

func (f frameOf) value(s string) align.Value {
	if s == "" || s == "INF" {
		return align.Value{}
	}
	d, _, err := unit.ParseDecimal(strings.TrimPrefix(s, "-"))
	require.NoError(f.t, err, s)
	if strings.HasPrefix(s, "-") {
		d = d.Neg()
	}
	l, err := d.Length(f.u)
	require.NoError(f.t, err)
	return align.Stated(l)
}

func (f frameOf) point(s string) align.Point {
	fields := strings.Fields(s)
	if len(fields) < 2 {
		return align.Point{}
	}
	var l [2]unit.Length
	for i, origin := range []int64{f.n, f.e} {
		d, _, err := unit.ParseDecimal(fields[i])
		require.NoError(f.t, err)
		l[i], err = d.LengthFrom(origin, f.u, f.u)
		require.NoError(f.t, err)
	}
	return align.Point{Place: align.Place{E: l[1], N: l[0]}, Set: true}
}

func (f frameOf) elements(a *fileAlignment) (out []align.Element) {
	for _, x := range a.Geometry.Elements {
		e := align.Element{Start: f.point(x.Start).Place, End: f.point(x.End).Place, Centre: f.point(x.Center), Radius: f.value(x.Radius),
			StartRadius: f.value(x.RadiusStart), EndRadius: f.value(x.RadiusEnd), Length: f.value(x.Length), Chainage: f.value(x.StaStart)}
		switch x.Rot {
		case "cw":
			e.Turn = align.ToRight
		case "ccw":
			e.Turn = align.ToLeft
		}
		switch x.XMLName.Local {
		case "Line":
			e.Shape = align.Line
		case "Curve":
			e.Shape = align.Arc
		case "Spiral":
			e.Shape, e.PI = align.Clothoid, f.point(x.PI)
		default:
			continue
		}
		out = append(out, e)
	}
	return out
}

// Alignments of real files: stated lengths, radii, chainages and points of
// intersection, which are computed by the programs that wrote the files, against
// the coordinates.
func TestAlignmentsOfRealFiles(t *testing.T) {
	for _, x := range []struct {
		file  string
		u     unit.Unit
		n, e  int64 // origin
		kinks int   // all of the flaws; the elements are not tangent there
	}{
		{"d06_alignment_arcs_profile.xml", unit.M, 6782000, 21530000, 0},
		{"d09_alignment_usft_bom.xml", unit.FtUS, 628000, 1320000, 0},
		{"d10_county_road_11_usft.xml", unit.FtUS, 3932000, 5375000, 14},
		{"d20_azimuth_dir_clothoids.xml", unit.M, 0, 0, 0},
	} {
		t.Run(x.file, func(t *testing.T) {
			f := frameOf{t, x.u, x.n, x.e}
			alignments := readAlignments(t, x.file)
			require.NotEmpty(t, alignments)
			kinks := 0
			for i := range alignments {
				elements := f.elements(&alignments[i])
				if len(elements) == 0 {
					continue
				}
				a, flaws := align.New(elements, f.value(alignments[i].StaStart).L, align.Options{In: x.u})
				require.NotNil(t, a, "%v", flaws)
				for _, flaw := range flaws {
					assert.Equal(t, align.Kink, flaw.Kind, flaw.Text)
				}
				kinks += len(flaws)
				stated := f.value(alignments[i].Length)
				t.Logf("%s: %d elements, %s long, stated %s", alignments[i].Name, len(elements), (a.End()-a.Start()).Exact(x.u, 3), alignments[i].Length)
				assert.InDelta(t, stated.L.Metres(), (a.End() - a.Start()).Metres(), 0.0001)
			}
			assert.Equal(t, x.kinks, kinks)
		})
	}
}

// The clothoids of a real file: their points by the program that wrote it.
func TestClothoidsOfARealFile(t *testing.T) {
	a := &readAlignments(t, "d20_azimuth_dir_clothoids.xml")[0]
	f := frameOf{t: t, u: unit.M}
	n := 0
	for i, e := range f.elements(a) {
		if e.Shape != align.Clothoid {
			continue
		}
		n++
		built := build(t, 0, e)
		start, b, err := built.At(0, 0)
		require.NoError(t, err)
		assert.Less(t, apart(start, e.Start), 1e-9)
		x := a.Geometry.Elements[i]
		if e.StartRadius.Set { // totals of an exit are not along its start
			continue
		}
		sin, cos := sincos(num(b))
		v := pair{metres(e.End.E - e.Start.E), metres(e.End.N - e.Start.N)}
		along, left := add(mul(v.re, sin), mul(v.im, cos)), sub(mul(v.im, sin), mul(v.re, cos))
		totalX, err := strconv.ParseFloat(x.TotalX, 64)
		require.NoError(t, err)
		totalY, err := strconv.ParseFloat(x.TotalY, 64)
		require.NoError(t, err)
		assert.InDelta(t, totalX, float(along), 1e-6)
		assert.InDelta(t, totalY, float(left), 1e-6)
	}
	assert.Equal(t, 2, n)
}

// Profiles of real files: no step at the ends of curves, and circles of the length
// that the program which wrote the file gives them. Two profiles have curves that
// overlap (one where the length before the PVI is twice the room that the curve
// before it leaves); they are refused, not drawn somehow.
func TestProfilesOfRealFiles(t *testing.T) {
	var refused []string
	circles := 0
	for _, x := range []struct {
		file string
		u    unit.Unit
	}{{"d06_alignment_arcs_profile.xml", unit.M}, {"d09_alignment_usft_bom.xml", unit.FtUS}, {"d10_county_road_11_usft.xml", unit.FtUS}, {"d11_subdivision_11_foot_pipes.xml", unit.Ft}} {
		f := frameOf{t: t, u: x.u}
		profiles := 0
		alignments := readAlignments(t, x.file)
		for i := range alignments {
			for _, l := range alignments[i].Profile.Lines {
				var points []align.PVI
				var arcs []align.Value // stated lengths of circles
				for _, p := range l.Points {
					fields := strings.Fields(p.Text)
					if len(fields) != 2 {
						continue
					}
					v := align.PVI{Chainage: f.value(fields[0]).L, Level: f.value(fields[1]).L}
					switch p.XMLName.Local {
					case "PVI":
					case "ParaCurve":
						v.Curve, v.Length = align.Parabola, f.value(p.Length).L
					case "UnsymParaCurve":
						v.Curve, v.In, v.Out = align.Unsymmetric, f.value(p.LengthIn).L, f.value(p.LengthOut).L
					case "CircCurve":
						v.Curve, v.Radius = align.Circular, f.value(p.Radius).L.Abs()
					default:
						continue
					}
					points, arcs = append(points, v), append(arcs, f.value(p.Length))
				}
				p, flaws := align.NewProfile(points, align.ProfileOptions{In: x.u})
				profiles++
				if p == nil {
					refused = append(refused, flaws.Err().Error())
					continue
				}
				for _, flaw := range flaws {
					t.Logf("%s: %s", x.file, flaw.Text)
				}
				// it is continuous at the ends of its curves
				for i := range points {
					start, end, ok := p.Curve(i)
					if ok && points[i].Curve == align.Circular {
						circles++
						a, err := p.Level(start)
						require.NoError(t, err)
						b, err := p.Level(end)
						require.NoError(t, err)
						r, chord := points[i].Radius.Metres(), math.Hypot((end-start).Metres(), (b-a).Metres())
						// by levels rounded to the micrometre in the file
						assert.InDelta(t, arcs[i].L.Metres(), 2*r*math.Asin(chord/2/r), 1e-4, "PVI %d", i+1)
					}
					for _, at := range []unit.Length{start, end} {
						if !ok || at <= p.Start() || at >= p.End() {
							continue
						}
						a, err := p.Level(at - 1)
						require.NoError(t, err)
						b, err := p.Level(at + 1)
						require.NoError(t, err)
						assert.LessOrEqual(t, (a - b).Abs(), unit.Micrometre)
					}
				}
			}
		}
		assert.NotZero(t, profiles, x.file)
	}
	assert.Equal(t, []string{"PVI 4, at chainage 166.906 ftUS, has a vertical curve that starts at 77.6286 ftUS, 13605.9 mm before the one at chainage 92.2673 ftUS ends; curves can not overlap: correct the file",
		"PVI 3, at chainage 645.423282 ft, has a vertical curve that starts at 545.423282 ft, 2489.3 mm before the one at chainage 478.590362 ft ends; curves can not overlap: correct the file"}, refused)
	assert.Equal(t, 9, circles)
}
