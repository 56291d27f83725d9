package report

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
	"golang.org/x/net/html"

	"sightrail/convert"
	"sightrail/convert/levels"
	"sightrail/formats"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/job"
)

// setoutSample is a run of as many rows as asked for, 1 in 100 from 10.000, and a
// pad of two points; invented.
func setoutSample(rows int) *qa.SetoutResult {
	of := func(n int) *job.Length { return &job.Length{Length: mm(n)} }
	run := &job.Setout{Name: "Storm 1", Design: "drain", Pipes: []string{"P1"}, Every: of(1000), Bedding: of(100), Traveller: of(2500), Receiver: of(2000), Laser: "L1", Ground: &job.Ground{File: "g.csv"}}
	s := qa.SetoutSheet{Of: run, What: "pipe P1 of SW, from A down to B; chainage from A", Date: "2026-03-05", Plane: "L1, set up 2026-03-05", HasTop: true,
		Remarks: []string{"Bottom of the trench = invert less wall less bedding of 100 mm.", "Dig = ground less bottom of the trench."}}
	for k := range rows {
		l := 10*unit.Metre - mm(10*k)
		r := qa.SetoutRow{Pipe: "P1", Chainage: levels.Of(mm(1000 * k)), Place: convert.Place{E: mm(1000 * k)}, Placed: true, Design: levels.Of(l), TrenchBottom: levels.Of(l - mm(140)), Top: levels.Of(l + mm(340)),
			Plane: levels.Of(l + mm(2000)), StaffDesign: levels.Of(mm(2000)), StaffTrench: levels.Of(mm(2140)), Receiver: levels.Of(mm(-140)), Rail: levels.Of(l + mm(2500)), DesignAt: "pipe P1"}
		if k%2 == 0 {
			r.Ground, r.GroundAt = levels.Of(l+mm(1200)), fmt.Sprintf("g.csv:%d:3", k+2)
			r.Dig, r.RailOverGround = levels.Of(mm(1340)), levels.Of(mm(1300))
		}
		s.Rows = append(s.Rows, r)
	}
	s.Rows[0].Name = "A"
	s.Rows[1].Remarks = []string{"a staff of 5.000 m on the invert does not reach the plane: move the laser"}
	s.Rows[2].Remarks = []string{"the rail is not above the ground: use a longer traveller", s.Rows[1].Remarks[0]}
	pad := qa.SetoutSheet{Of: &job.Setout{Name: "Pad", Design: "s"}, What: "surface S", Date: "2026-03-04", Warnings: []string{"Read this."},
		Rows: []qa.SetoutRow{{Name: "P1", Place: convert.Place{E: mm(1234)}, Placed: true, Design: levels.Of(mm(12345))}, {Name: "P2", Remarks: []string{"no easting and northing in the peg list"}}}}
	none := qa.SetoutSheet{Of: &job.Setout{Name: "Storm 2", Design: "drain", Pipes: []string{"P9"}}, What: "pipes P9 of the design drain", Date: "2026-03-04", Why: "the network has no pipe P9"}
	return &qa.SetoutResult{Version: "dev", Job: &job.Job{Project: "Depot", Revision: "C"}, Frame: convert.Frame{Unit: unit.M, E0: 1000, N0: 2000, Datum: "AHD", Grid: "local site"},
		Sheets: []qa.SetoutSheet{s, pad, none}, Inputs: []qa.Input{{File: "job.yaml", Role: "job", SHA256: "0a1b"}},
		Problems: []formats.Problem{{Pos: formats.Pos{File: "job.yaml", Row: 3, Col: 1}, Text: "the network has no pipe P9"}}}
}

func setoutBytes(t testing.TB, k *SetoutKind, res *qa.SetoutResult) []byte {
	var b bytes.Buffer
	require.NoError(t, k.Write(&b, res))
	return b.Bytes()
}

func TestSetoutCSV(t *testing.T) {
	rows, err := csv.NewReader(bytes.NewReader(setoutBytes(t, SetoutCSV, setoutSample(3)))).ReadAll()
	require.NoError(t, err, "every line has as many cells")
	require.Len(t, rows, 1+3+2+1)
	cell := func(i int, name string) string {
		for k, h := range rows[0] {
			if h == name {
				return rows[i][k]
			}
		}
		t.Fatal(name)
		return ""
	}
	for name, want := range map[string]string{"sheet": "Storm 1", "chainage": "1.000", "easting": "1001.000", "northing": "2000.000", "unit": "m", "design": "9.990", "trench_bottom": "9.850", "top_of_pipe": "10.330",
		"plane": "11.990", "staff_on_design": "2.000", "staff_on_trench_bottom": "2.140", "receiver_over_plane_mm": "-140", "sight_rail": "12.490", "ground": "", "dig": "", "laser": "L1", "date": "2026-03-05",
		"remark": "a staff of 5.000 m on the invert does not reach the plane: move the laser"} {
		assert.Equal(t, want, cell(2, name), name)
	}
	assert.Equal(t, "1.340", cell(3, "dig"))
	assert.Equal(t, "g.csv:4:3", cell(3, "ground_at"))
	assert.Equal(t, "12.345", cell(4, "design"))
	assert.Equal(t, "", cell(5, "easting"))
	assert.Equal(t, "nothing is set out: the network has no pipe P9", cell(6, "remark"))
}

func TestSetoutWorkbook(t *testing.T) {
	f, err := excelize.OpenReader(bytes.NewReader(setoutBytes(t, SetoutWorkbook, setoutSample(81))))
	require.NoError(t, err)
	defer f.Close()
	assert.Equal(t, []string{"Storm 1", "Pad", "Storm 2", "Basis"}, f.GetSheetList())
	rows, err := f.GetRows("Storm 1")
	require.NoError(t, err)
	head := 0
	for rows[head][0] != "Place" {
		head++
	}
	assert.Equal(t, []string{"Place", "Chainage", "Easting", "Northing", "Invert", "Trench bottom", "Top of pipe", "Plane", "Staff on invert", "Staff on trench bottom", "Receiver over plane mm", "Sight rail", "Rail over ground", "Ground", "Dig", "Remark"}, rows[head])
	assert.Equal(t, []string{"A", "0.000", "1000.000", "2000.000", "10.000", "9.860", "10.340", "12.000", "2.000", "2.140", "-140.0", "12.500", "1.300", "11.200", "1.340"}, rows[head+1][:15])
	assert.Equal(t, []string{"not known", "not known", "not known"}, rows[head+2][12:15])
	about := fmt.Sprint(rows[:head])
	for _, s := range []string{"Storm 1", "L1, set up 2026-03-05", "2026-03-05", "Depot", "levels in m above AHD"} {
		assert.Contains(t, about, s)
	}
	names := f.GetDefinedName()
	require.NotEmpty(t, names)
	assert.Equal(t, fmt.Sprintf("'Storm 1'!$1:$%d", head+1), names[0].RefersTo, "the heading repeats on every printed page")
	sheet := unzip(t, setoutBytes(t, SetoutWorkbook, setoutSample(81)), "xl/worksheets/sheet1.xml")
	assert.Contains(t, sheet, `<rowBreaks`)
	assert.Equal(t, 2, strings.Count(sheet, "<brk "), "81 rows are three pages")
}

func unzip(t *testing.T, b []byte, name string) string {
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	require.NoError(t, err)
	r, err := z.Open(name)
	require.NoError(t, err)
	text, err := io.ReadAll(r)
	require.NoError(t, err)
	return string(text)
}

// Coordinates are rounded half away from the origin, in every unit of print.
func TestSetoutCoordinates(t *testing.T) {
	for _, x := range []struct {
		l    unit.Length
		u    unit.Unit
		want string
	}{{mm(1234) + unit.Millimetre/2, unit.M, "11.235"}, {mm(1234) + unit.Millimetre/2 - 1, unit.M, "11.234"}, {-mm(1) - unit.Millimetre/2, unit.M, "9.998"}, {1, unit.M, "10.000"}, {unit.InternationalFoot/3 + 1, unit.Ft, "10.333"}, {mm(7) - 1, unit.MM, "17"}} {
		f := convert.Frame{Unit: x.u, E0: 10}
		assert.Equal(t, x.want, coordinate(&qa.SetoutRow{Place: convert.Place{E: x.l}, Placed: true}, f.Easting, x.u))
	}
	assert.Empty(t, coordinate(&qa.SetoutRow{}, nil, unit.M))
}

func TestSheetNames(t *testing.T) {
	used := map[string]bool{"basis": true}
	for i, x := range [][2]string{{"P1/P2: [a]*?", "P1_P2_ _a___"}, {"p1/p2: [a]*?", "Sheet 2"}, {"Basis", "Sheet 3"}, {"", "Sheet 4"}, {"Sheet 6", "Sheet 6"}, {strings.Repeat("é", 40), strings.Repeat("é", 31)}, {"it's", "it_s"}, {"History", "Sheet 8"}} {
		assert.Equal(t, x[1], sheetName(x[0], i, used))
	}
}

// A page has at most 40 rows; the 41st begins another, with the whole heading.
func TestSetoutPageBreaks(t *testing.T) {
	for _, x := range []struct {
		rows  int
		pages []int
	}{{39, []int{39}}, {40, []int{40}}, {41, []int{40, 1}}, {80, []int{40, 40}}, {81, []int{40, 40, 1}}} {
		res := setoutSample(x.rows)
		res.Sheets = res.Sheets[:1]
		s := &res.Sheets[0]
		for i := range s.Rows {
			s.Rows[i].Remarks = nil
		}
		pages := setoutPagesOf(res, s)
		var got []int
		at := 0
		for i, p := range pages {
			got = append(got, len(p.Rows))
			assert.Equal(t, [2]int{i + 1, len(x.pages)}, [2]int{p.No, p.Of})
			assert.Equal(t, []fact{{"Run", s.What}, {"Date", s.Date}, {"Plane", s.Plane}}, p.Facts, "run, plane and date on each")
			assert.Equal(t, "Storm 1", p.Name)
			for _, row := range p.Rows {
				assert.Equal(t, s.Rows[at].Chainage.L.Fixed(unit.M, 3), row[1].Text, "no row is lost or doubled")
				at++
			}
		}
		assert.Equal(t, x.pages, got)
		assert.Equal(t, x.rows, at)
	}
	res := setoutSample(100)
	res.Sheets[0].Warnings = []string{strings.Repeat("much to say ", 200)}
	for _, p := range setoutPagesOf(res, &res.Sheets[0])[:3] {
		assert.Len(t, p.Rows, leastRows, "less room for rows")
	}
	assert.Equal(t, 2, PageCount(setoutSample(41), &setoutSample(41).Sheets[0]))
}

func TestSetoutPage(t *testing.T) {
	text := string(setoutBytes(t, SetoutPages, setoutSample(41)))
	assert.Equal(t, 2, strings.Count(text, `aria-label="Storm 1, page`))
	assert.Equal(t, 2, strings.Count(text, "<dt>Plane</dt><dd>L1, set up 2026-03-05</dd>"))
	assert.Equal(t, 2, strings.Count(text, "<dt>Date</dt><dd>2026-03-05</dd>"))
	assert.Equal(t, 1, strings.Count(text, "<dt>Plane</dt><dd>none</dd></div></dl>\n<ul class=\"warn\"><li>Read this.</li></ul>"))
	assert.Equal(t, 4, strings.Count(text, "No one enters a trench"), "cautions on every page")
	assert.Contains(t, text, "<b>Nothing is set out:</b> the network has no pipe P9")
	assert.Contains(t, text, `<td class="n">−140</td>`)
	assert.Contains(t, text, `<td class="n">–</td>`)
	assert.Contains(t, text, "<b>–</b> not known")
	// the remark that two rows share is told once, by its letter
	assert.Equal(t, 1, strings.Count(text, "does not reach the plane"))
	assert.Contains(t, text, "<td>b a</td>")
	assert.Contains(t, text, "job.yaml:3:1: the network has no pipe P9")
	assert.NotContains(t, text, "<script")
	_, err := html.Parse(strings.NewReader(text))
	require.NoError(t, err)
	assert.Equal(t, []string{"a", "z", "aa", "ab", "zz", "aaa"}, []string{noteLetter(0), noteLetter(25), noteLetter(26), noteLetter(27), noteLetter(701), noteLetter(702)})
}

// The same sheets give the same bytes, and text of files is inert in all of them.
func TestSetoutRepeatsAndIsInert(t *testing.T) {
	hostileSample := func() *qa.SetoutResult {
		res := setoutSample(45)
		k := 0
		f := func() string { k++; return hostile[k%len(hostile)] }
		for i := range res.Sheets {
			s := &res.Sheets[i]
			s.Of.Name, s.What, s.Plane, s.Of.Laser, s.Date = f(), f(), f(), f(), f()
			s.Warnings, s.Remarks = []string{f(), f()}, []string{f(), f()}
			for n := range s.Rows {
				r := &s.Rows[n]
				r.Name, r.Pipe, r.DesignAt, r.GroundAt, r.Remarks = f(), "=1+1", f(), f(), []string{f()}
			}
		}
		res.Job.Project, res.Job.Contract, res.Frame.Datum, res.Problems[0].Text, res.Inputs[0].File = f(), f(), f(), f(), f()
		return res
	}
	for _, k := range SetoutKinds {
		assert.Equal(t, setoutBytes(t, k, hostileSample()), setoutBytes(t, k, hostileSample()), k.File)
		assert.NotEmpty(t, k.Doc)
	}
	doc, err := html.Parse(bytes.NewReader(setoutBytes(t, SetoutPages, hostileSample())))
	require.NoError(t, err)
	elements := 0
	var walk func(*html.Node)
	walk = func(n *html.Node) {
		if n.Type == html.ElementNode {
			elements++
			assert.NotContains(t, []string{"script", "img", "link", "iframe", "svg"}, n.Data)
			for _, a := range n.Attr {
				assert.False(t, strings.HasPrefix(a.Key, "on") || a.Key == "src" || a.Key == "href" || a.Key == "style", a.Key)
			}
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(doc)
	assert.Greater(t, elements, 100)
	rows, err := csv.NewReader(bytes.NewReader(setoutBytes(t, SetoutCSV, hostileSample()))).ReadAll()
	require.NoError(t, err)
	assert.Equal(t, "'=1+1", rows[1][2])
	book := setoutBytes(t, SetoutWorkbook, hostileSample())
	assert.NotContains(t, unzip(t, book, "xl/worksheets/sheet1.xml"), "<f>")
	_, err = excelize.OpenReader(bytes.NewReader(book))
	require.NoError(t, err)
}
