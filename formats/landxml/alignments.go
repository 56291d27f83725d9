package landxml

import (
	"bytes"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// alignReader reads one Alignment. What it makes is kept only when all numbers
// in it could be read.
type alignReader struct {
	a       formats.Alignment
	depth   int
	faults  int // problems of the file when it began
	el      *formats.AlignmentElement
	elDepth int
	to      func(*formats.AlignmentElement) *formats.Place
	lists   int // of points, in the element
	refs    []placeRef
	pi      *formats.AlignmentPI
	part    string // of the curves of pi
	profile *formats.Profile
	pvi     formats.PVI
	section *formats.CrossSection
	line    *formats.SectionSurface
	pnt     formats.SectionPoint
	group   string // name of the open Profile or CrossSects
	points  int    // in lists and sections
	geoms   int    // how many CoordGeom
	skewed  int
	sloped  int
	flat    int // radii of spirals written as 0
	unread  tally
}

// placeRef is a place that is that of a named point.
type placeRef struct {
	to  func(*formats.Alignment) *formats.Place
	ref string
	at  formats.Pos
}

// elementKinds are the words for the elements of plan geometry.
var elementKinds = map[string]string{"Line": "line", "Curve": "curve", "Spiral": "spiral", "IrregularLine": "irregular line", "Chain": "chain"}

// placesOf are the places of an element.
var placesOf = map[string]func(*formats.AlignmentElement) *formats.Place{
	"Start":  func(e *formats.AlignmentElement) *formats.Place { return &e.Start },
	"End":    func(e *formats.AlignmentElement) *formats.Place { return &e.End },
	"Center": func(e *formats.AlignmentElement) *formats.Place { return &e.Centre },
	"PI":     func(e *formats.AlignmentElement) *formats.Place { return &e.PI },
}

// broken, in place of the problems before it, is an alignment that is refused.
const broken = -1

func (d *decoder) problems() int { return len(d.doc.Problems) + d.bad }

func (d *decoder) alignBegin(a attrs) {
	r := &alignReader{depth: len(d.path), faults: d.problems(), unread: tally{}}
	d.align = r
	r.a = formats.Alignment{Name: a.text("name"), Desc: a.text("desc"), State: d.state(a), Pos: d.here()}
	start, length := d.reading(a, "staStart"), d.reading(a, "length")
	r.a.StaStart, r.a.Stationed = start.Value, start.Set
	r.a.Length, r.a.Measured = length.Value, length.Set
}

func (r *alignReader) field() string { return "alignment " + r.a.Name }

// required reads a number that has to be there.
func (d *decoder) required(a attrs, key string) unit.Decimal {
	v := d.reading(a, key)
	if !v.Set && len(trim(a.raw(key))) == 0 {
		d.refuse(d.align.field(), "<%s> has no %s; write it into the file", d.parent(0), key)
	} else if !v.Set && string(trim(a.raw(key))) == "NaN" {
		d.refuse(d.align.field(), "the %s of <%s> is NaN (not a number); write a number into the file", key, d.parent(0))
	}
	return v.Value
}

// alignStart handles a start tag inside an alignment, by its depth below it.
func (d *decoder) alignStart(name string, a attrs) {
	r := d.align
	if r.el != nil {
		if len(d.path) == r.elDepth+1 {
			d.partOfElement(name, a)
		}
		return
	}
	switch len(d.path) - r.depth {
	case 1:
		d.partOfAlignment(name, a)
	case 2:
		switch parent := d.parent(1); {
		case parent == "CoordGeom" && elementKinds[name] != "":
			d.elementBegin(name, a)
		case parent == "AlignPIs" && name == "AlignPI":
			r.pi = &formats.AlignmentPI{Pos: d.here()}
		case parent == "Profile" && (name == "ProfAlign" || name == "ProfSurf"):
			d.profileBegin(name, a)
		case parent == "CrossSects" && name == "CrossSect":
			d.sectionBegin(a)
		case (parent == "CoordGeom" || parent == "AlignPIs" || parent == "Profile" || parent == "CrossSects") && name != "Feature":
			r.unread.add(name)
		}
	case 3:
		switch {
		case r.pi != nil:
			d.partOfPI(name, a)
		case r.profile != nil:
			d.partOfProfile(name, a)
		case r.section != nil:
			d.lineBegin(name, a)
		}
	case 4:
		switch {
		case r.pi != nil && r.part != "" && (name == "Curve" || name == "Spiral"):
			d.elementBegin(name, a)
		case r.line != nil:
			d.partOfLine(name, a)
		}
	}
}

func (d *decoder) partOfAlignment(name string, a attrs) {
	r := d.align
	switch name {
	case "AlignPIs":
	case "CoordGeom":
		r.geoms++
	case "Profile", "CrossSects":
		r.group = a.text("name")
	case "StaEquation":
		r.a.Equations = append(r.a.Equations, formats.StationEquation{Pos: d.here(), Internal: d.required(a, "staInternal"), Back: d.reading(a, "staBack"),
			Ahead: d.required(a, "staAhead"), Increment: d.choice(a, "staIncrement", "increasing", "decreasing"), Desc: a.text("desc")})
	case "Feature":
	default:
		r.unread.add(name)
	}
}

func (d *decoder) elementBegin(name string, a attrs) {
	r := d.align
	r.lists, r.elDepth = 0, len(d.path)
	r.el = &formats.AlignmentElement{Kind: elementKinds[name], Name: a.text("name"), Desc: a.text("desc"), Pos: d.here(), Station: d.reading(a, "staStart"), Length: d.reading(a, "length")}
	e := r.el
	switch name {
	case "Curve":
		e.Radius, e.Rotation, e.CurveType = d.reading(a, "radius"), d.choice(a, "rot", "cw", "ccw"), d.choice(a, "crvType", "arc", "chord")
	case "Spiral":
		e.RadiusStart, e.RadiusEnd = d.spiralRadius(a, "radiusStart"), d.spiralRadius(a, "radiusEnd")
		e.Rotation, e.SpiralType = d.choice(a, "rot", "cw", "ccw"), d.spiralType(a)
	case "Chain":
		d.collect()
	}
}

// spiralTypes are those of the schema.
var spiralTypes = []string{"biquadratic", "bloss", "clothoid", "cosine", "cubic", "sinusoid", "revBiquadratic", "revBloss", "revCosine", "revSinusoid",
	"sineHalfWave", "biquadraticParabola", "cubicParabola", "japaneseCubic", "radioid", "weinerBogen"}

// spiralType keeps a type that is not in the schema as it is.
func (d *decoder) spiralType(a attrs) string {
	text := trim(a.raw("spiType"))
	for _, t := range spiralTypes {
		if bytes.EqualFold(text, []byte(t)) {
			return t
		}
	}
	return string(text)
}

// spiralRadius reads a radius that may be infinite. Some files write 0 for
// infinite, which no spiral can have for its radius.
func (d *decoder) spiralRadius(a attrs, key string) formats.Radius {
	if t := string(trim(a.raw(key))); t == "INF" || t == "-INF" || t == "+INF" {
		return formats.Radius{Set: true, Infinite: true}
	}
	v := d.reading(a, key)
	if v.Set && v.Value.Coef == 0 {
		d.align.flat++
		return formats.Radius{Set: true, Infinite: true}
	}
	return formats.Radius{Set: v.Set, Value: v.Value}
}

func (d *decoder) partOfElement(name string, a attrs) {
	r := d.align
	switch to := placesOf[name]; {
	case to != nil && r.el.Kind != "chain":
		r.to = to
		if ref := a.text("pntRef"); ref != "" {
			r.refs = append(r.refs, placeRef{d.elementPlace(to), ref, d.here()})
		}
		d.collect()
	case (name == "PntList2D" || name == "PntList3D") && r.el.Kind == "irregular line":
		if r.lists++; r.lists > 1 {
			d.refuse(r.field(), "an irregular line has two lists of points; which of them holds cannot be told")
		}
		d.collect()
	case name != "Feature":
		r.unread.add(name)
	}
}

// elementPlace finds a place of the element that is being read when it has
// come into its list.
func (d *decoder) elementPlace(to func(*formats.AlignmentElement) *formats.Place) func(*formats.Alignment) *formats.Place {
	r := d.align
	if r.pi == nil {
		i := len(r.a.Elements)
		return func(a *formats.Alignment) *formats.Place { return to(&a.Elements[i]) }
	}
	i, k := len(r.a.PIs), len(r.pi.Curves)
	return func(a *formats.Alignment) *formats.Place { return to(&a.PIs[i].Curves[k].AlignmentElement) }
}

// piParts are the words for the curves at a point of intersection.
var piParts = map[string]string{"InSpiral": "spiral in", "Curve1": "curve", "ConnSpiral": "connecting spiral", "Curve2": "second curve", "OutSpiral": "spiral out"}

func (d *decoder) partOfPI(name string, a attrs) {
	r := d.align
	r.part = piParts[name]
	switch name {
	case "PI":
		p := r.pi
		p.Name, p.Code, p.Desc = a.text("name"), a.text("code"), a.text("desc")
		if ref := a.text("pntRef"); ref != "" {
			i := len(r.a.PIs)
			r.refs = append(r.refs, placeRef{func(a *formats.Alignment) *formats.Place { return &a.PIs[i].Place }, ref, d.here()})
		}
		d.collect()
	case "Station":
		d.collect()
	case "Feature":
	default:
		if r.part == "" {
			r.unread.add(name)
		}
	}
}

// piText takes the place or the station of a point of intersection.
func (d *decoder) piText(name string, text []byte) {
	p := d.align.pi
	if name == "PI" {
		d.place(&p.Place, "<PI> of AlignPI", text)
		return
	}
	v, n, bad := d.coordinates(text)
	at := d.pos.At(d.textRow, d.textCol)
	switch {
	case bad != nil:
		d.refuseAt(at, d.align.field(), "<Station> of AlignPI: %s is not a number", shorten(bad))
	case n > 1:
		d.refuseAt(at, d.align.field(), "<Station> of AlignPI has %s where one is wanted", numbersOf(n))
	case n == 1:
		p.Station = formats.Reading{Set: true, Value: v[0], Col: at.Col}
	}
}

// alignEnd handles an end tag inside an alignment.
func (d *decoder) alignEnd(name string) {
	r := d.align
	if d.gathering() {
		d.alignText(name)
	}
	if r.el != nil {
		if len(d.path) == r.elDepth {
			d.elementEnd()
		}
		return
	}
	switch len(d.path) - r.depth {
	case 0:
		if d.problems() > r.faults {
			r.faults = broken
		}
		d.aligns = append(d.aligns, r)
		d.align = nil
	case 2:
		switch {
		case r.pi != nil:
			r.a.PIs = append(r.a.PIs, *r.pi)
			r.pi = nil
		case r.profile != nil:
			r.a.Profiles = append(r.a.Profiles, *r.profile)
			r.profile = nil
		case r.section != nil:
			r.a.Sections = append(r.a.Sections, *r.section)
			r.section = nil
		}
	case 3:
		if r.line != nil {
			r.section.Surfaces = append(r.section.Surfaces, *r.line)
			r.line = nil
		}
	}
}

func (d *decoder) elementEnd() {
	r := d.align
	if r.pi != nil {
		r.pi.Curves = append(r.pi.Curves, formats.PICurve{Part: r.part, AlignmentElement: *r.el})
	} else {
		r.a.Elements = append(r.a.Elements, *r.el)
	}
	r.el = nil
}

// alignText takes the text of an element by what it is.
func (d *decoder) alignText(name string) {
	text := d.collected()
	switch r := d.align; {
	case name == "Chain":
		for {
			word, rest := nextWord(text)
			if len(word) == 0 || !d.another() {
				return
			}
			r.el.Names = append(r.el.Names, string(word))
			text = rest
		}
	case r.el != nil && (name == "PntList2D" || name == "PntList3D"):
		d.pointsOfLine(name, text)
	case r.el != nil:
		d.place(r.to(r.el), "<"+name+"> of a "+r.el.Kind, text)
	case r.pi != nil:
		d.piText(name, text)
	case r.profile != nil && name == "PntList2D":
		d.pointsOfProfile(text)
	case r.profile != nil:
		d.pviEnd(text)
	case r.line != nil && name == "PntList2D":
		d.pointsOfSection(text)
	case r.line != nil:
		d.sectionPoint(text)
	}
}

// another counts a point of an alignment, and refuses one too many.
func (d *decoder) another() bool {
	r := d.align
	r.points++
	if r.points == formats.MaxVertices+1 {
		d.refuse(r.field(), "it has more than %d points, the most that is read", formats.MaxVertices)
	}
	return r.points <= formats.MaxVertices
}

func (d *decoder) pointsOfLine(name string, text []byte) {
	e, size := d.align.el, 2
	if name == "PntList3D" {
		size = 3
	}
	why, at := d.numbers(text, size, func(v [3]unit.Decimal, row int) {
		if d.another() {
			e.Points = append(e.Points, formats.Place{N: v[0], E: v[1], Z: v[2], Placed: true, Levelled: size == 3, Row: row})
		}
	})
	if why != "" {
		d.refuseAt(at, d.align.field(), "irregular line: %s", why)
	}
}

// place reads northing, easting and, where it is given, a level. No text is no
// place.
func (d *decoder) place(to *formats.Place, what string, text []byte) {
	d.placeIn(d.align.field(), to, what, text)
}

func (d *decoder) placeIn(field string, to *formats.Place, what string, text []byte) {
	v, n, bad := d.coordinates(text)
	at := d.pos.At(d.textRow, d.textCol)
	p := formats.Place{N: v[0], E: v[1], Z: v[2], Placed: n >= 2, Levelled: n == 3, Row: at.Row, Col: at.Col}
	switch {
	case bad != nil:
		d.refuseAt(at, field, "%s: %s is not a coordinate", what, shorten(bad))
	case n == 1 || n > 3:
		d.refuseAt(at, field, "%s has %s where northing and easting are wanted", what, numbersOf(n))
	case n == 0:
	case to.Placed && (!same(to.E, p.E) || !same(to.N, p.N)):
		d.refuseAt(at, field, "%s stands twice, with different coordinates; which of them holds cannot be told", what)
	default:
		*to = p
	}
}

// finishAlignments looks up places that are those of named points, compares
// what the file says twice, and keeps the alignments that could be read.
func (d *decoder) finishAlignments() {
	var names map[string][]int
	lookUp := func(r *alignReader, at formats.Pos, ref string) (p formats.Place) {
		if names == nil {
			names = d.pointNames()
		}
		o, why := d.named(names, ref, 0)
		if why != "" {
			r.faults = broken
			d.refuseAt(at, r.field(), "%s", why)
			return p
		}
		return formats.Place{E: o.p.E, N: o.p.N, Z: o.p.Z, Placed: true, Levelled: o.p.Levelled, Row: o.p.Row, Col: o.p.Col}
	}
	for _, r := range d.aligns {
		for _, ref := range r.refs {
			if to := ref.to(&r.a); !to.Placed { // its own coordinates hold
				*to = lookUp(r, ref.at, ref.ref)
			}
		}
		for i := range r.a.Elements {
			e := &r.a.Elements[i]
			for _, n := range e.Names {
				e.Points = append(e.Points, lookUp(r, e.Pos, n))
			}
			if n := len(e.Points); n > 0 && e.Kind == "chain" {
				e.Start, e.End = e.Points[0], e.Points[n-1]
			}
		}
		if r.faults == broken {
			continue
		}
		d.notesOfAlignment(r)
		d.doc.Alignments = append(d.doc.Alignments, r.a)
	}
}
