package main

import (
	"encoding/json"
	"fmt"
	"strings"

	"sightrail/formats"
	"sightrail/formats/unit"
)

type inspectCmd struct {
	Files []string `arg:"" name:"file" help:"Files to look at."`
	Unit  string   `enum:",m,mm,ft,ftUS,ft-in" default:"" placeholder:"m|mm|ft|ftUS|ft-in" help:"Unit of files that do not say it; ft-in for a level book kept in feet and inches."`
	JSON  bool     `name:"json" help:"Print JSON."`
}

// inspected is what a file is.
type inspected struct {
	File     string         `json:"file"`
	Format   string         `json:"format"`
	SHA256   string         `json:"sha256,omitempty"`
	Units    inspectedUnits `json:"units"`
	CRS      string         `json:"crs,omitempty"`
	Datum    string         `json:"heightDatum,omitempty"`
	Counts   formats.Counts `json:"counts"`
	Extent   *extent        `json:"extent"`
	About    []string       `json:"about,omitempty"`
	Names    []string       `json:"names,omitempty"`
	Problems []string       `json:"problems"`
	Notes    []string       `json:"notes"`
}

type inspectedUnits struct {
	Linear   string `json:"linear"`
	Diameter string `json:"diameter,omitempty"`
}

// extent is the box around what has a place, as the file wrote it.
type extent struct {
	MinE json.Number `json:"minEasting"`
	MinN json.Number `json:"minNorthing"`
	MaxE json.Number `json:"maxEasting"`
	MaxN json.Number `json:"maxNorthing"`
	MinZ json.Number `json:"minLevel,omitempty"`
	MaxZ json.Number `json:"maxLevel,omitempty"`
}

func (k *inspectCmd) run(c *console) int {
	defer gather(gatherLooking)()
	opt := formats.Options{}
	opt.Unit, opt.FeetInches = unitFlag(k.Unit)
	code := exitOK
	all := []inspected{}
	for _, name := range k.Files {
		var box bounds
		o := opt
		o.Points = func(_ formats.Pos, batch []formats.Point) error {
			for i := range batch {
				if p := &batch[i]; p.Placed && p.Bad == "" {
					box.add(p.E, p.N, p.Z, p.Levelled)
				}
			}
			return nil
		}
		d, in, err := folder{dir: ".", watch: c.progress}.Decode(name, o)
		if err != nil {
			d = &formats.Document{File: shown(name)}
			d.Refuse(formats.Pos{File: shown(name)}, "", "%s", strings.TrimPrefix(err.Error(), shown(name)+": "))
		}
		x := k.describe(d, &box, c.all)
		x.SHA256 = in.SHA256
		if len(d.Problems) > 0 {
			code = exitUndone
		}
		all = append(all, x)
	}
	if k.JSON {
		enc := json.NewEncoder(c.out)
		enc.SetEscapeHTML(false)
		enc.SetIndent("", " ")
		if err := enc.Encode(all); err != nil {
			return c.fail(err)
		}
		return code
	}
	for i := range all {
		if i > 0 {
			fmt.Fprintln(c.out)
		}
		all[i].print(c)
	}
	return code
}

func (k *inspectCmd) describe(d *formats.Document, box *bounds, allProblems bool) inspected {
	x := inspected{File: d.File, Format: d.Format, Counts: d.Counts(), CRS: d.CRS.Name, Datum: d.CRS.Vertical, Problems: []string{}, Notes: []string{}}
	if d.CRS.EPSG != "" {
		x.CRS = strings.TrimSpace("EPSG:" + d.CRS.EPSG + " " + d.CRS.Name)
	}
	u := d.Units.Linear
	for i := range d.Books {
		b := &d.Books[i]
		if !u.Known() {
			u = b.Unit
		}
		x.Names = append(x.Names, fmt.Sprintf("level book %s: %d rows", b.Name, len(b.Rows)))
	}
	x.Units = inspectedUnits{Linear: u.Name, Diameter: d.Units.Diameter.Name}
	for i := range d.Surfaces {
		s := &d.Surfaces[i]
		used := make([]bool, len(s.Vertices))
		for _, f := range s.Faces {
			if f.Invisible {
				continue
			}
			for _, v := range f.V {
				if !used[v] {
					used[v] = true
					box.add(s.Vertices[v].E, s.Vertices[v].N, s.Vertices[v].Z, true)
				}
			}
		}
		x.Names = append(x.Names, fmt.Sprintf("surface %s: %d vertices, %d faces, %d of them invisible%s", s.Name, len(s.Vertices), len(s.Faces), s.Invisible,
			more(len(s.Breaklines), "breaklines")+more(len(s.Boundaries), "boundaries")))
	}
	for i := range d.Networks {
		n := &d.Networks[i]
		for k := range n.Structures {
			if s := &n.Structures[k]; s.Placed {
				box.add(s.E, s.N, unit.Decimal{}, false)
			}
		}
		x.Names = append(x.Names, fmt.Sprintf("pipe network %s: %d structures, %d pipes", n.Name, len(n.Structures), len(n.Pipes)))
	}
	for i := range d.Alignments {
		a := &d.Alignments[i]
		for k := range a.Elements {
			for _, p := range []*formats.Place{&a.Elements[k].Start, &a.Elements[k].End} {
				if p.Placed {
					box.add(p.E, p.N, unit.Decimal{}, false)
				}
			}
		}
		for k := range a.PIs {
			if p := &a.PIs[k].Place; p.Placed && len(a.Elements) == 0 {
				box.add(p.E, p.N, unit.Decimal{}, false)
			}
		}
		x.Names = append(x.Names, "alignment "+a.Name+": "+alignment(a))
	}
	for i := range d.Polygons {
		x.Names = append(x.Names, fmt.Sprintf("polygon %s: %d rings", d.Polygons[i].Name, len(d.Polygons[i].Rings)))
		for _, r := range d.Polygons[i].Rings {
			for _, v := range r {
				box.add(v.E, v.N, unit.Decimal{}, false)
			}
		}
	}
	for i := range d.Lines {
		x.Names = append(x.Names, fmt.Sprintf("line %s: %d parts", d.Lines[i].Name, len(d.Lines[i].Parts)))
		for _, part := range d.Lines[i].Parts {
			for _, v := range part {
				box.add(v.E, v.N, unit.Decimal{}, false)
			}
		}
	}
	for _, a := range d.About {
		x.About = append(x.About, a.Name+": "+a.Value)
	}
	x.Extent = box.extent()
	if !u.Known() && len(d.Problems) == 0 && x.Counts != (formats.Counts{}) {
		d.Note(formats.Pos{File: d.File}, "unit", "the file does not say its unit of length; a job has to declare it")
	}
	x.Problems = append(x.Problems, formats.Lines(d.Problems, allProblems)...)
	x.Notes = append(x.Notes, formats.Lines(d.Notes, allProblems)...)
	return x
}

// more names what there is besides, if any.
func more(n int, what string) string {
	if n == 0 {
		return ""
	}
	return fmt.Sprintf(", %d %s", n, what)
}

// alignment says in words what an alignment holds.
func alignment(a *formats.Alignment) string {
	var kinds [3]int // of elements
	for i := range a.Elements {
		switch a.Elements[i].Kind {
		case "curve":
			kinds[1]++
		case "spiral":
			kinds[2]++
		default:
			kinds[0]++
		}
	}
	from := "a station that is not said"
	if a.Stationed {
		from = a.StaStart.String()
	}
	design := 0
	for i := range a.Profiles {
		if a.Profiles[i].Kind == "design" {
			design++
		}
	}
	return fmt.Sprintf("from %s, %d elements", from, len(a.Elements)) + more(kinds[0], "lines") + more(kinds[1], "curves") + more(kinds[2], "spirals") + more(len(a.PIs), "points of intersection") +
		more(design, "design profiles") + more(len(a.Profiles)-design, "profiles of surfaces") + more(len(a.Equations), "station equations") + more(len(a.Sections), "cross sections")
}

// bounds gathers an extent in decimals.
type bounds struct {
	any, level         bool
	loE, loN, hiE, hiN unit.Decimal
	loZ, hiZ           unit.Decimal
}

func (b *bounds) add(e, n, z unit.Decimal, level bool) {
	if !b.any {
		b.any, b.loE, b.loN, b.hiE, b.hiN = true, e, n, e, n
	}
	widen(&b.loE, &b.hiE, e)
	widen(&b.loN, &b.hiN, n)
	if !level {
		return
	}
	if !b.level {
		b.level, b.loZ, b.hiZ = true, z, z
	}
	widen(&b.loZ, &b.hiZ, z)
}

// widen moves the ends of a range to take in d; of equal numbers the first stays.
func widen(lo, hi *unit.Decimal, d unit.Decimal) {
	if smaller(d, *lo) {
		*lo = d
	}
	if smaller(*hi, d) {
		*hi = d
	}
}

// smaller compares as float64. Decimals of equal places compare as their digits do where
// these are few enough to be told apart as float64.
func smaller(a, b unit.Decimal) bool {
	const few = 1 << 51
	if a.Places == b.Places && a.Coef > -few && a.Coef < few && b.Coef > -few && b.Coef < few {
		return a.Coef < b.Coef
	}
	return a.Float() < b.Float()
}

func (b *bounds) extent() *extent {
	if !b.any {
		return nil
	}
	x := &extent{MinE: json.Number(b.loE.String()), MinN: json.Number(b.loN.String()), MaxE: json.Number(b.hiE.String()), MaxN: json.Number(b.hiN.String())}
	if b.level {
		x.MinZ, x.MaxZ = json.Number(b.loZ.String()), json.Number(b.hiZ.String())
	}
	return x
}

// counted writes what there is, in words.
func counted(n formats.Counts) string {
	var out []string
	for _, x := range []struct {
		n    int
		what string
	}{{n.Books, "level books"}, {n.BookRows, "book rows"}, {n.Points, "points"}, {n.Surfaces, "surfaces"}, {n.Vertices, "vertices"}, {n.Faces, "faces"},
		{n.InvisibleFaces, "invisible faces"}, {n.Breaklines, "breaklines"}, {n.Boundaries, "boundaries"}, {n.Alignments, "alignments"},
		{n.Profiles, "profiles"}, {n.PIs, "points of intersection"}, {n.Equations, "station equations"}, {n.Sections, "cross sections"}, {n.Structures, "pits"}, {n.Pipes, "pipes"}, {n.Polygons, "polygons"}, {n.Lines, "lines"}} {
		if x.n > 0 {
			out = append(out, plenty(x.n, x.what))
		}
	}
	if len(out) == 0 {
		return "nothing that is read"
	}
	return strings.Join(out, ", ")
}

// plenty writes a number with a thing that is named in the plural.
func plenty(n int, things string) string {
	if n == 1 {
		if s, ok := strings.CutSuffix(things, "ies"); ok {
			things = s + "y"
		} else if things == "vertices" {
			things = "vertex"
		} else {
			first, rest, _ := strings.Cut(things, " of ") // "points of intersection"
			things = strings.TrimSuffix(first, "s")
			if rest != "" {
				things += " of " + rest
			}
		}
	}
	return fmt.Sprintf("%d %s", n, things)
}

func (x *inspected) print(c *console) {
	format := x.Format
	if format == "" {
		format = "not recognised"
	}
	fmt.Fprintf(c.out, "%s: %s\n", printable(x.File), format)
	line := func(name, value string) {
		if value != "" {
			fmt.Fprintf(c.out, "  %-9s %s\n", name, printable(value))
		}
	}
	for _, a := range x.About {
		line("", a)
	}
	unitText := x.Units.Linear
	if unitText == "" && x.Format != "" {
		unitText = "not said"
	}
	if x.Units.Diameter != "" {
		unitText += ", pipe sizes " + x.Units.Diameter
	}
	line("unit", unitText)
	line("grid", x.CRS)
	line("heights", x.Datum)
	line("holds", counted(x.Counts))
	for _, n := range x.Names {
		line("", n)
	}
	if e := x.Extent; e != nil {
		line("extent", fmt.Sprintf("easting %s to %s, northing %s to %s", e.MinE, e.MaxE, e.MinN, e.MaxN))
		if e.MinZ != "" {
			line("levels", fmt.Sprintf("%s to %s", e.MinZ, e.MaxZ))
		}
	}
	for _, n := range x.Notes {
		line("note", n)
	}
	for _, p := range x.Problems {
		line("PROBLEM", p)
	}
}
