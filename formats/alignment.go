package formats

import "sightrail/formats/unit"

// Alignment is a line in plan with its stations, profiles and cross sections,
// all in the linear unit of the file. Stations everywhere in it are internal:
// StaStart and the distance along the line, before any station equation.
// Nothing is computed from it here. What contradicts itself is kept as written
// and named in the notes of the Document.
type Alignment struct {
	Name, Desc string
	State      string // "proposed", "existing", "abandoned", "destroyed"; "" = not said
	Pos        Pos
	StaStart   unit.Decimal // station of the begin
	Stationed  bool         // StaStart is there
	Length     unit.Decimal // as stated
	Measured   bool         // Length is there
	Elements   []AlignmentElement
	PIs        []AlignmentPI // where the file lists them, beside the elements or in place of them
	Equations  []StationEquation
	Profiles   []Profile
	Sections   []CrossSection
}

// Place is a place in plan, with the level where the file gives one. Levels in
// plan geometry are often 0 and mean nothing.
type Place struct {
	E, N, Z  unit.Decimal
	Placed   bool // E and N are there
	Levelled bool // Z is there
	Row, Col int  // Col 0: not counted
}

// AlignmentElement is one piece of an alignment, from Start to End.
type AlignmentElement struct {
	Kind       string // "line", "curve", "spiral", "irregular line" or "chain"
	Name, Desc string
	Pos        Pos
	Start, End Place
	Centre     Place   // of a curve
	PI         Place   // of a curve or a spiral: where the tangents of its ends meet
	Station    Reading // of Start, as stated
	Length     Reading // as stated
	Radius     Reading // of a curve, as stated; the places hold
	CurveType  string  // "arc", or "chord" where Length is measured by chords; "" = not said
	Rotation   string  // of a curve or a spiral: "cw" turns right, "ccw" left; "" = not said

	SpiralType             string // "clothoid", "bloss", ...
	RadiusStart, RadiusEnd Radius // of a spiral

	Points []Place  // of an irregular line, its ends included; of a chain
	Names  []string // of the points of a chain
}

// AlignmentPI is a place where two tangents of an alignment meet, with the
// curves that lead from one to the other.
type AlignmentPI struct {
	Name, Code, Desc string
	Pos              Pos
	Place            Place
	Station          Reading // as stated
	Curves           []PICurve
}

// PICurve is one of the curves at an AlignmentPI. Its places are mostly left
// out; what the file gives are radius, length and sense of rotation.
type PICurve struct {
	Part string // "spiral in", "curve", "connecting spiral", "second curve" or "spiral out"
	AlignmentElement
}

// Radius is the radius at an end of a spiral, as stated.
type Radius struct {
	Set      bool
	Infinite bool         // written INF, or 0, which is read as infinite
	Value    unit.Decimal // 0 when infinite
}

// StationEquation changes the numbering of the stations shown, at one place.
type StationEquation struct {
	Pos       Pos
	Internal  unit.Decimal // station of the place
	Back      Reading      // station shown that ends there, in the numbering of the equation before
	Ahead     unit.Decimal // station shown that begins there
	Increment string       // "increasing" or "decreasing"; "" = not said: increasing
	Desc      string
}

// Profile is the levels along an alignment: a designed line of grades and
// curves, or a line on a surface.
type Profile struct {
	Name, Desc string
	State      string // as of Alignment
	Group      string // name of the group of profiles it stands in
	Kind       string // "design" or "surface"
	Pos        Pos
	PVIs       []PVI // in the order of the file; of a surface, its points
}

// PVI is a point of vertical intersection: where two grades meet, with the
// curve between them.
type PVI struct {
	Row, Col      int
	Station, Elev unit.Decimal
	Gap           bool    // of a surface: nothing is known between this point and the one before
	Curve         string  // "parabola", "asymmetric", "circular"; "" = none
	Length        Reading // of a parabola, horizontal; of a circular curve as stated, which may be the arc or horizontal: the radius holds
	In, Out       Reading // of an asymmetric parabola: horizontal lengths before and behind the PVI
	Radius        Reading // of a circular curve; its sign may say sag (+) or crest (-), or nothing
	Desc          string
}

// CrossSection is what lies across an alignment at a station.
type CrossSection struct {
	Name, Desc string
	Group      string // name of the group of sections it stands in
	Pos        Pos
	Station    unit.Decimal
	Skewed     bool // not square to the alignment; by how much is not read
	Surfaces   []SectionSurface
}

// SectionSurface is the line of one surface in a cross section.
type SectionSurface struct {
	Name, Desc string
	State      string // as of Alignment
	Kind       string // "design": points of a designed section; "surface": a line on a surface
	Pos        Pos
	Side       string  // of a designed section: "left", "right", "both"; "" = not said
	Material   string  // of a designed section
	Closed     bool    // the points go round an area
	Thickness  Reading // typical, as stated
	Width      Reading // typical, as stated
	Points     []SectionPoint
}

// SectionPoint is a point of a cross section. Whether levels are absolute or
// above the profile is not said in a file and has to be told from the profile.
type SectionPoint struct {
	Row, Col      int
	Offset, Level unit.Decimal // offset + = right
	Gap           bool         // nothing is known between this point and the one before
	Sloped        bool         // Offset holds a slope and Level a distance
	Name, Code    string
	Desc          string
}

// Breakline is a line that the triangles of a surface keep to.
type Breakline struct {
	Name, Desc string
	State      string // as of Alignment
	Kind       string // "standard", "wall", "proximity", "nondestructive"; "" = not said
	Pos        Pos
	Levelled   bool     // its points have levels
	Points     []Vertex // without numbers; Z only when Levelled
}

// Boundary is an outline that bounds a surface or a hole in it.
type Boundary struct {
	Name, Desc string
	State      string // as of Alignment
	Kind       string // "outer", "void", "island"
	EdgeTrim   bool   // triangles are cut along it
	Pos        Pos
	Levelled   bool     // its points have levels
	Points     []Vertex // without numbers; Z only when Levelled
}
