package main

import (
	"fmt"
	"path/filepath"
	"slices"

	"sightrail/formats"
	"sightrail/formats/all"
)

type convertCmd struct {
	In       string   `arg:"" help:"File to read."`
	Out      string   `arg:"" help:"File to write; its ending says the format."`
	Unit     string   `enum:",m,mm,ft,ftUS,ft-in" default:"" placeholder:"m|mm|ft|ftUS|ft-in" help:"Unit of a file that does not say it; ft-in for a level book kept in feet and inches."`
	Sheet    string   `help:"Sheet of a workbook to read."`
	Columns  []string `placeholder:"LIST" help:"Meaning of the columns of a file without headings."`
	Kind     string   `enum:",levels,points" default:"" placeholder:"levels|points" help:"What a table holds, where its headings do not say it."`
	Lossless bool     `help:"Exit with 2 when something cannot be carried."`
}

func (k *convertCmd) run(c *console) int {
	to, err := all.ByName(k.Out)
	if err != nil {
		return c.fail(err)
	}
	opt := formats.Options{Sheet: k.Sheet, Columns: k.Columns, Content: formats.Content(k.Kind)}
	opt.Unit, opt.FeetInches = unitFlag(k.Unit)
	d, in, err := folder{dir: ".", watch: c.progress}.Decode(k.In, opt)
	if err != nil {
		return c.fail(err)
	}
	if len(d.Problems) > 0 {
		c.problems(d.Problems)
		c.say("sightrail: %s is not written, because %s could not be read whole", shown(k.Out), shown(k.In))
		return exitUndone
	}
	if sameFile(k.In, k.Out) {
		return c.fail(fmt.Errorf("%s is the file that is read; write to another name", shown(k.Out)))
	}
	for _, line := range formats.Lines(d.Notes, c.all) {
		c.say("note: %s", line)
	}
	lost := losses(d, to)
	for _, l := range lost {
		c.say("%s: not carried to %s: %s", shown(k.In), to.Title, l)
	}
	if k.Lossless && len(lost) > 0 {
		c.say("sightrail: %s is not written, because something would be lost (--lossless)", shown(k.Out))
		return exitUndone
	}
	carried := carry(d, to)
	if carried.Counts() == (formats.Counts{}) {
		c.say("sightrail: nothing of %s can be held by %s; %s is not written", shown(k.In), to.Title, shown(k.Out))
		return exitUndone
	}
	out := &output{dir: filepath.Dir(k.Out)}
	w, err := out.create(filepath.Base(k.Out))
	if err == nil {
		if err = to.Encode(w, carried, formats.EncodeOptions{Unit: opt.Unit}); err == nil {
			err = out.commit()
		}
	}
	if err != nil {
		out.abandon()
		return c.fail(fmt.Errorf("%s: %w", shown(k.Out), err))
	}
	fmt.Fprintf(c.out, "%s (%s) written to %s (%s): %s\n", shown(k.In), in.Format, shown(k.Out), to.Name, counted(carried.Counts()))
	return exitOK
}

// losses names what the document holds and the format does not, from the list
// of what the format holds.
func losses(d *formats.Document, to *formats.Format) []string {
	holds := func(k formats.Kind) bool { return slices.Contains(to.Holds, k) }
	n := d.Counts()
	var out []string
	lose := func(k formats.Kind, n int, what string) {
		if n > 0 && !holds(k) {
			out = append(out, fmt.Sprintf("%d %s", n, what))
		}
	}
	lose(formats.Books, n.Books, "level books")
	lose(formats.Points, n.Points, "points")
	lose(formats.Surfaces, n.Surfaces, "surfaces")
	lose(formats.SourceLines, n.Breaklines+n.Boundaries, "breaklines and boundaries of surfaces")
	lose(formats.Alignments, n.Alignments, "alignments")
	lose(formats.Alignments, n.Profiles, "profiles of alignments")
	lose(formats.Alignments, n.Equations, "station equations")
	lose(formats.Alignments, n.Sections, "cross sections")
	lose(formats.Networks, n.Structures+n.Pipes, "pits and pipes of pipe networks")
	lose(formats.Polygons, n.Polygons, "polygons")
	lose(formats.PlanLines, n.Lines, "lines")
	if holds(formats.Points) && n.Points > 0 {
		lose(formats.Attributes, attributes(d), "codes and descriptions of points")
		lose(formats.LaserReadings, readings(d), "readings on a laser plane")
		lose(formats.PointExtras, extras(d), "points with a chainage, layer, run, set-up, time or what was staffed")
	}
	if (d.CRS.EPSG != "" || d.CRS.Name != "") && !holds(formats.CRSName) {
		name := d.CRS.Name
		if d.CRS.EPSG != "" {
			name = "EPSG:" + d.CRS.EPSG
		}
		out = append(out, "the coordinate system "+name)
	}
	if d.CRS.Vertical != "" && !holds(formats.CRSName) {
		out = append(out, "the height datum "+d.CRS.Vertical)
	}
	if d.Units.Linear.Known() && !holds(formats.UnitName) {
		out = append(out, "the unit of length, "+d.Units.Linear.Name)
	}
	if n.Books > 0 && n.Points > 0 && holds(formats.Books) && to.Name == "csv" {
		out = append(out, fmt.Sprintf("%d points: a CSV file holds a level book or points", n.Points))
	}
	return out
}

func attributes(d *formats.Document) int {
	n := 0
	for i := range d.Points {
		if d.Points[i].Code != "" || d.Points[i].Desc != "" {
			n++
		}
	}
	return n
}

func readings(d *formats.Document) int {
	n := 0
	for i := range d.Points {
		if p := &d.Points[i]; p.Reading.Set || p.Receiver.Set {
			n++
		}
	}
	return n
}

func extras(d *formats.Document) int {
	n := 0
	for i := range d.Points {
		if p := &d.Points[i]; p.Chained || p.Layer != "" || p.Run != "" || p.Setup != "" || p.Staffed != "" || p.Time != "" {
			n++
		}
	}
	return n
}

// carry is the document without what the format does not hold.
func carry(d *formats.Document, to *formats.Format) *formats.Document {
	out := *d
	drop := func(k formats.Kind, f func()) {
		if !slices.Contains(to.Holds, k) {
			f()
		}
	}
	drop(formats.Books, func() { out.Books = nil })
	drop(formats.Points, func() { out.Points, out.PointCount = nil, 0 })
	drop(formats.Surfaces, func() { out.Surfaces = nil })
	drop(formats.Alignments, func() { out.Alignments = nil })
	drop(formats.Networks, func() { out.Networks = nil })
	drop(formats.Polygons, func() { out.Polygons = nil })
	drop(formats.PlanLines, func() { out.Lines = nil })
	if to.Name == "csv" && len(out.Books) > 0 {
		out.Points, out.PointCount = nil, 0
	}
	return &out
}
