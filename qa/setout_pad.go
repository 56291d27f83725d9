package qa

import (
	"cmp"
	"fmt"
	"math/big"
	"sort"
	"strconv"
	"strings"

	"sightrail/convert"
	"sightrail/convert/levels"
	"sightrail/convert/surface"
	"sightrail/formats"
	"sightrail/formats/unit"
)

// pad makes the rows of a pad: the points of a peg list, the corners of its
// outline, the crossings of a grid.
func (w *setoutWork) pad() error {
	s := w.Head.Design.Surfaces[w.of.Design]
	if s == nil {
		w.sheet.Why = fmt.Sprintf("the design %s could not be read", w.of.Design)
		if !w.unbuilt[w.of.Design] {
			w.fail("design", "the design %q is no surface that could be read", w.of.Design)
		}
		return nil
	}
	if w.of.Points != nil {
		if err := w.padPoints(); err != nil {
			return err
		}
	}
	if s.TIN == nil && (w.of.Outline || w.of.Spacing != nil) {
		w.fail("design", "the design %q has no triangles to take an outline or a grid from; list the points of the sheet with \"points:\"", w.of.Design)
		return nil
	}
	if w.of.Outline {
		for _, ring := range s.TIN.Outline() {
			for _, v := range ring {
				w.padRow("C"+strconv.Itoa(len(w.sheet.Rows)+1), convert.Place{E: v.E, N: v.N})
			}
		}
	}
	if w.of.Spacing != nil && w.sheet.Why == "" {
		w.padGrid(s)
	}
	if n := len(w.sheet.Rows); n > MaxSetoutRows {
		w.sheet.Rows = nil
		w.fail("points", "the sheet has %d points, more than the %d it may have; split it", n, MaxSetoutRows)
	}
	if w.sheet.Why != "" {
		return nil
	}
	w.sheet.What = "surface " + s.Name
	if w.of.Offset != nil && w.of.Offset.Length != 0 {
		w.sheet.What += fmt.Sprintf(", with an offset of %s: minus is below it", w.print(w.of.Offset.Length))
	}
	outside := 0
	for i := range w.sheet.Rows {
		if !w.padLevel(s, &w.sheet.Rows[i]) {
			outside++
		}
	}
	if outside > 0 {
		w.cannot("design", "No level is known at %d of %s: see their remarks.", outside, number(len(w.sheet.Rows), "point", "points"))
	}
	return nil
}

func (w *setoutWork) padRow(name string, at convert.Place) {
	w.sheet.Rows = append(w.sheet.Rows, SetoutRow{Name: name, Place: at, Placed: true})
}

// padPoints reads the peg list.
func (w *setoutWork) padPoints() error {
	p := w.of.Points
	points, err := w.pointsOf(p.File, "pegs", w.path+".points.file", p.Reading.Options(formats.PointContent))
	if err != nil {
		return err
	}
	for i := range points {
		s := &points[i]
		if s.Use == convert.Blank {
			continue
		}
		w.padRow(s.ID, s.Place)
		r := &w.sheet.Rows[len(w.sheet.Rows)-1]
		if r.Placed = s.Placed; !s.Placed {
			r.remark("no easting and northing in the peg list")
		}
	}
	return nil
}

// pointsOf reads the points of a file that says its unit.
func (w *setoutWork) pointsOf(file, role, key string, opt formats.Options) ([]convert.Shot, error) {
	d, err := w.decode(file, role, opt)
	if err != nil {
		return nil, err
	}
	u := d.Units.Linear
	if !u.Known() {
		u = opt.Unit
	}
	if !u.Known() {
		if len(d.Problems) == 0 {
			w.problem(w.Head.Job.Where(key), "unit", "%s does not say its unit; write it in the headings, such as \"Easting (m)\", or declare \"unit: m\" here", file)
		}
		return nil, nil
	}
	if d.CRS.EPSG != "" && w.Head.Frame.EPSG != "" && d.CRS.EPSG != w.Head.Frame.EPSG {
		w.problem(w.Head.Job.Where(key), "grid", "%s is in EPSG:%s, the job in EPSG:%s; one of them is wrong", file, d.CRS.EPSG, w.Head.Frame.EPSG)
		return nil, nil
	}
	reader := convert.PointReader{Frame: &w.Head.Frame, Unit: u}
	return reader.Shots(formats.Pos{File: d.File}, d.Points), nil
}

// padGrid adds the crossings of a square grid that lie on the surface. The grid
// counts from zero easting and northing, so that two sheets share it.
func (w *setoutWork) padGrid(s *convert.Surface) {
	step := w.of.Spacing.Length
	lo, hi := s.TIN.Bounds()
	across, up := (hi.E-lo.E)/step+1, (hi.N-lo.N)/step+1
	if across > MaxSetoutRows || up > MaxSetoutRows || across*up > 4*MaxSetoutRows {
		w.fail("spacing", "a grid of %s over this surface has more than the %d points a sheet may have; make it wider", w.print(step), MaxSetoutRows)
		return
	}
	f := &w.Head.Frame
	count := 0
	for n := firstLine(f.N0, f.Unit, lo.N, step); n <= hi.N; n += step {
		for e := firstLine(f.E0, f.Unit, lo.E, step); e <= hi.E; e += step {
			if _, _, state, _ := s.TIN.Level(e, n); state != surface.Outside {
				count++
				w.padRow("G"+strconv.Itoa(count), convert.Place{E: e, N: n})
			}
		}
	}
}

// firstLine is the first line of a grid at or above lo, which counts from the
// origin of the frame; the grid counts from zero.
func firstLine(origin int64, u unit.Unit, lo, step unit.Length) unit.Length {
	x := new(big.Int).Mul(big.NewInt(origin), big.NewInt(int64(u.Size)))
	x.Add(x, big.NewInt(int64(lo)))
	rest := new(big.Int).Mod(x, big.NewInt(int64(step))) // 0 or more
	if rest.Sign() == 0 {
		return lo
	}
	return lo + step - unit.Length(rest.Int64())
}

// padLevel gives a row its level. It reports whether there is one.
func (w *setoutWork) padLevel(s *convert.Surface, r *SetoutRow) bool {
	if !r.Placed && s.Levels == nil {
		return false
	}
	z, from, why := s.At(&convert.Shot{ID: r.Name, Place: r.Place, Placed: r.Placed})
	if why != "" {
		r.remark(why + ": no level")
		return false
	}
	if w.of.Offset != nil {
		z += w.of.Offset.Length
	}
	r.Design, r.DesignAt = levels.Of(z), from
	return true
}

// ground gives the rows the level of the ground, where it is known.
func (w *setoutWork) ground() error {
	g := w.of.Ground
	if g == nil || w.sheet.Why != "" {
		return nil
	}
	if g.File != "" {
		return w.groundFile()
	}
	s := w.Head.Design.Surfaces[g.Surface]
	if s == nil {
		w.warn("The ground %s could not be read.", g.Surface) // the problem is at the design
		return nil
	}
	for i := range w.sheet.Rows {
		r := &w.sheet.Rows[i]
		if !r.Placed {
			continue
		}
		if z, from, why := s.At(&convert.Shot{ID: r.Name, Place: r.Place, Placed: true}); why == "" {
			r.Ground, r.GroundAt = levels.Of(z), from
		} else if strings.HasPrefix(why, "two ") {
			r.remark("two faces of the ground lie over each other here: not known")
		}
	}
	return nil
}

// groundFile takes ground levels by the name of the row, or by its chainage. Two
// levels for one row that differ are none.
func (w *setoutWork) groundFile() error {
	g := w.of.Ground
	points, err := w.pointsOf(g.File, "ground", w.path+".ground.file", g.Reading.Options(formats.PointContent))
	if err != nil {
		return err
	}
	rows := w.sheet.Rows
	byName := map[string][]int{}
	for k := range rows {
		if n := cmp.Or(rows[k].pit, rows[k].Name); n != "" {
			byName[n] = append(byName[n], k)
		}
	}
	unused := 0
	twice := map[int]bool{}
	for i := range points {
		p := &points[i]
		if p.Use == convert.Blank {
			continue
		}
		of := byName[p.ID]
		if len(of) == 0 && w.of.Run() && p.Chained && p.Offset == 0 && (p.Run == "" || p.Run == w.of.Name) {
			// rows rise in chainage; one that prints alike is the same
			k := sort.Search(len(rows), func(k int) bool { return rows[k].Chainage.L >= p.Chainage-samePlace })
			for ; k < len(rows) && rows[k].Chainage.L <= p.Chainage+samePlace; k++ {
				of = append(of, k)
			}
		}
		if !p.Levelled || len(of) == 0 {
			unused++
			continue
		}
		for _, k := range of {
			r := &rows[k]
			switch {
			case twice[k]:
			case r.Ground.Set && r.Ground.L != p.Level:
				w.problem(p.Pos, "level", "the ground at %s is %s here and %s at %s; keep one of them", w.rowName(r), w.print(p.Level), w.print(r.Ground.L), r.GroundAt)
				r.remark("two ground levels that differ: not known")
				r.Ground, r.GroundAt, twice[k] = levels.Value{}, "", true
			default:
				r.Ground, r.GroundAt = levels.Of(p.Level), p.Pos.String()
			}
		}
	}
	switch {
	case unused == 1:
		w.warn("Of the ground in %s, 1 row has no level, or is at no name or chainage of this sheet, and is not used.", g.File)
	case unused > 1:
		w.warn("Of the ground in %s, %d rows have no level, or are at no name or chainage of this sheet, and are not used.", g.File, unused)
	}
	return nil
}
