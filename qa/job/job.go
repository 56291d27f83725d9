// Package job is the job file: strict YAML to a Job, and the JSON Schema made
// from the same structs. A key it does not know, a value without its unit and a
// name that leads nowhere are errors with file, line, column and the line
// shown. Nothing here opens a file.
package job

import (
	"sightrail/convert/levels"
	"sightrail/convert/plane"
	"sightrail/formats/unit"
	"sightrail/qa/limits"
)

// Job is a job file.
type Job struct {
	File string `yaml:"-" json:"-"` // name of the job file, for messages
	source

	Project    string `yaml:"project" json:"project" jsonschema:"required,description=Name of the project"`
	Contract   string `yaml:"contract,omitempty" json:"contract,omitempty" jsonschema:"description=Contract name or number"`
	Client     string `yaml:"client,omitempty" json:"client,omitempty" jsonschema:"description=Who the report is for"`
	Company    string `yaml:"company,omitempty" json:"company,omitempty" jsonschema:"description=Who made the survey"`
	Lot        string `yaml:"lot,omitempty" json:"lot,omitempty" jsonschema:"description=Lot number"`
	Element    string `yaml:"element,omitempty" json:"element,omitempty" jsonschema:"description=Work element the lot covers"`
	Clause     string `yaml:"clause,omitempty" json:"clause,omitempty" jsonschema:"description=Specification and clause that sets what is asked"`
	Revision   string `yaml:"revision,omitempty" json:"revision,omitempty" jsonschema:"description=Design revision the contract calls for"`
	HoldPoint  string `yaml:"holdPoint,omitempty" json:"holdPoint,omitempty" jsonschema:"description=Hold point of the inspection and test plan"`
	ReportNo   string `yaml:"reportNo,omitempty" json:"reportNo,omitempty" jsonschema:"description=Number of the report"`
	SurveyDate string `yaml:"surveyDate,omitempty" json:"surveyDate,omitempty" jsonschema:"description=Date of the survey"`
	Weather    string `yaml:"weather,omitempty" json:"weather,omitempty" jsonschema:"description=Weather during the survey"`

	Units       Unit         `yaml:"units" json:"units" jsonschema:"required,description=Unit that reports print coordinates and levels in"`
	Grid        Grid         `yaml:"grid" json:"grid" jsonschema:"required,description=Plan grid: an EPSG code or local"`
	SiteGrid    *SiteGrid    `yaml:"siteGrid,omitempty" json:"siteGrid,omitempty" jsonschema:"description=Control that places a local grid in one of EPSG"`
	Shift       string       `yaml:"shift,omitempty" json:"shift,omitempty" jsonschema:"description=EPSG operation that takes the grid to WGS 84 where a choice must be made; or none within 2 m where that is known and EPSG has no shift"`
	HeightDatum string       `yaml:"heightDatum" json:"heightDatum" jsonschema:"required,description=Name of the height datum all levels refer to"`
	BenchMarks  []BenchMark  `yaml:"benchMarks,omitempty" json:"benchMarks,omitempty" jsonschema:"description=Marks with a known level"`
	Instruments []Instrument `yaml:"instruments,omitempty" json:"instruments,omitempty" jsonschema:"description=Instruments and the evidence that they were in order"`
	People      People       `yaml:"people,omitempty" json:"people,omitempty" jsonschema:"description=Who did the work and answers for it"`
	Levelling   Levelling    `yaml:"levelling,omitempty" json:"levelling,omitempty" jsonschema:"description=How level runs are closed and judged"`
	CheckShots  CheckShots   `yaml:"checkShots,omitempty" json:"checkShots,omitempty" jsonschema:"description=How far shots on known marks may be off"`

	LaserSetups []LaserSetup `yaml:"laserSetups,omitempty" json:"laserSetups,omitempty" jsonschema:"description=Standings of a laser that gives a graded plane"`
	LaserLimits *LaserLimits `yaml:"laserLimits,omitempty" json:"laserLimits,omitempty" jsonschema:"description=How far a laser may drift"`

	Surveys []Survey `yaml:"surveys,omitempty" json:"surveys,omitempty" jsonschema:"minItems=1,description=Files of field data"`
	Places  []Places `yaml:"places,omitempty" json:"places,omitempty" jsonschema:"description=Peg lists and chainage tables that give booked names their places"`
	Designs []Design `yaml:"designs,omitempty" json:"designs,omitempty" jsonschema:"minItems=1,description=Design files and what to take of them; needed by every check that compares with a design"`
	Checks  []Check  `yaml:"checks,omitempty" json:"checks,omitempty" jsonschema:"minItems=1,description=What is judged: each entry is one kind of check with its keys"`
	Lots    []Lot    `yaml:"lots,omitempty" json:"lots,omitempty" jsonschema:"description=Parts of the work that are accepted or rejected each by itself"`
	Setout  []Setout `yaml:"setout,omitempty" json:"setout,omitempty" jsonschema:"description=Sheets to set out by: each entry is a run of pipes or a pad"`

	Nonconformance *Nonconformance `yaml:"nonconformance,omitempty" json:"nonconformance,omitempty" jsonschema:"description=Makes patches of failing neighbours and a register of them"`
	Register       string          `yaml:"register,omitempty" json:"register,omitempty" jsonschema:"description=Register of the run before; numbers and decisions are carried on from it"`
	Rework         *Rework         `yaml:"rework,omitempty" json:"rework,omitempty" jsonschema:"description=When a newer shot takes the place of an older one"`
	Concessions    []Concession    `yaml:"concessions,omitempty" json:"concessions,omitempty" jsonschema:"description=What the engineer has conceded; the results stay as they are"`

	PlanWorth  *Length    `yaml:"planUncertainty,omitempty" json:"planUncertainty,omitempty" jsonschema:"description=Standard uncertainty of the places of shots in plan; nothing is judged by it"`
	Acceptance Acceptance `yaml:"acceptance,omitempty" json:"acceptance,omitempty" jsonschema:"description=Rules that lots are accepted by; every: each point within its limits"`
}

// BenchMark is a mark with a known level, and a place where it is known.
type BenchMark struct {
	Name     string      `yaml:"name" json:"name" jsonschema:"required,description=Name of the mark as the books and point files write it"`
	Level    Length      `yaml:"level" json:"level" jsonschema:"required,description=Known level of the mark"`
	Easting  *Coordinate `yaml:"easting,omitempty" json:"easting,omitempty" jsonschema:"description=Easting of the mark"`
	Northing *Coordinate `yaml:"northing,omitempty" json:"northing,omitempty" jsonschema:"description=Northing of the mark"`
	Worth    *Length     `yaml:"uncertainty,omitempty" json:"uncertainty,omitempty" jsonschema:"description=Standard uncertainty of the level; the mark counts as exact when left out"`
	Source   string      `yaml:"source" json:"source" jsonschema:"required,description=Where the value comes from"`
	Date     string      `yaml:"date" json:"date" jsonschema:"required,description=Date of the value"`
	Line     int         `yaml:"-" json:"-"`
}

// Instrument is one instrument and the evidence that it was in order.
type Instrument struct {
	Name     string    `yaml:"name" json:"name" jsonschema:"required,description=What the crew calls it"`
	Type     string    `yaml:"type,omitempty" json:"type,omitempty" jsonschema:"description=Make and model"`
	Serial   string    `yaml:"serial,omitempty" json:"serial,omitempty" jsonschema:"description=Serial number"`
	Checked  string    `yaml:"checked,omitempty" json:"checked,omitempty" jsonschema:"description=Date of the last check"`
	Result   string    `yaml:"result,omitempty" json:"result,omitempty" jsonschema:"description=Result of the last check"`
	TwoPeg   *TwoPeg   `yaml:"twoPeg,omitempty" json:"twoPeg,omitempty" jsonschema:"description=Two-peg test of a level"`
	Rotating *Rotating `yaml:"rotating,omitempty" json:"rotating,omitempty" jsonschema:"description=Check of a rotating laser in four directions"`
}

// People did the work and answer for it.
type People struct {
	Observer string `yaml:"observer,omitempty" json:"observer,omitempty" jsonschema:"description=Who observed"`
	Booker   string `yaml:"booker,omitempty" json:"booker,omitempty" jsonschema:"description=Who booked"`
	Checker  string `yaml:"checker,omitempty" json:"checker,omitempty" jsonschema:"description=Who checked the work"`
	Approver string `yaml:"approver,omitempty" json:"approver,omitempty" jsonschema:"description=Who approved it"`
}

// Levelling is how level runs are closed and judged.
type Levelling struct {
	Closing      Rule                `yaml:"closing,omitempty" json:"closing,omitempty" jsonschema:"description=Largest misclosure of a level run"`
	Source       string              `yaml:"source,omitempty" json:"source,omitempty" jsonschema:"description=Who set the closing rule"`
	Distribute   levels.Distribution `yaml:"distribute,omitempty" json:"distribute,omitempty" jsonschema:"enum=setups,enum=distance,description=How a misclosure inside its limit is shared out"`
	Outside      string              `yaml:"distributeOutside,omitempty" json:"distributeOutside,omitempty" jsonschema:"description=Why a misclosure outside its limit is shared out as well; the levels of such a run are shown and not assessed"`
	Staff        *Length             `yaml:"staff,omitempty" json:"staff,omitempty" jsonschema:"description=Length of the staff; a longer reading is a mistake"`
	HalfInterval *Length             `yaml:"halfInterval,omitempty" json:"halfInterval,omitempty" jsonschema:"description=How far the half intervals of three wires may differ; beyond it a reading is not used"`
	Stadia       int                 `yaml:"stadia,omitempty" json:"stadia,omitempty" jsonschema:"description=Constant that turns the interval of the outer wires into the length of the sight; 100 in most instruments"`
	Corrections  *Corrections        `yaml:"corrections,omitempty" json:"corrections,omitempty" jsonschema:"description=Corrections of the readings; none when left out"`
	Reciprocal   []Reciprocal        `yaml:"reciprocal,omitempty" json:"reciprocal,omitempty" jsonschema:"description=Lines levelled from both ends"`
	Network      *LevelNetwork       `yaml:"network,omitempty" json:"network,omitempty" jsonschema:"description=Adjusts all level runs together by least squares"`
	Worth        *Worth              `yaml:"uncertainty,omitempty" json:"uncertainty,omitempty" jsonschema:"description=What the worth of levels is worked out from"`
	Judge        string              `yaml:"judge,omitempty" json:"judge,omitempty" jsonschema:"enum=raw,enum=adjusted,default=raw,description=Which levels the checks judge"`
}

// Worth is what the worth of levels of a level book is worked out from: standard
// uncertainties, one standard deviation.
type Worth struct {
	Reading *Length `yaml:"reading,omitempty" json:"reading,omitempty" jsonschema:"description=Standard uncertainty of one staff reading"`
	Setup   *Length `yaml:"setup,omitempty" json:"setup,omitempty" jsonschema:"description=Standard uncertainty that a set-up adds to its collimation; its backsight is included"`
	PerKm   *Length `yaml:"perKm,omitempty" json:"perKm,omitempty" jsonschema:"description=Standard deviation of one km levelled forward and back as the instrument states it; in place of reading"`
	Source  string  `yaml:"source" json:"source" jsonschema:"required,description=Where these figures come from"`
}

// PointWorth is what the levels of a point file are worth.
type PointWorth struct {
	Point  Length  `yaml:"point" json:"point" jsonschema:"required,description=Standard uncertainty of one point by itself"`
	Shared *Length `yaml:"shared,omitempty" json:"shared,omitempty" jsonschema:"description=Standard uncertainty of what all points of the file have in common"`
	Source string  `yaml:"source" json:"source" jsonschema:"required,description=Where these figures come from"`
}

// CheckShots is how far a point file may be off the known marks it was checked on.
type CheckShots struct {
	Level  *Length `yaml:"level,omitempty" json:"level,omitempty" jsonschema:"description=Largest level difference on a known mark"`
	Plan   *Length `yaml:"plan,omitempty" json:"plan,omitempty" jsonschema:"description=Largest plan difference on a known mark"`
	Source string  `yaml:"source,omitempty" json:"source,omitempty" jsonschema:"description=Who set these limits"`
}

// Reading is how a table file is read, where the file does not say it itself.
type Reading struct {
	Sheet     string            `yaml:"sheet,omitempty" json:"sheet,omitempty" jsonschema:"description=Sheet of a workbook"`
	Unit      *FileUnit         `yaml:"unit,omitempty" json:"unit,omitempty" jsonschema:"description=Unit of the lengths in the file; ft-in for a level book kept in feet and inches"`
	Columns   []string          `yaml:"columns,omitempty" json:"columns,omitempty" jsonschema:"description=Meaning of the columns in order for a file without headings"`
	Delimiter string            `yaml:"delimiter,omitempty" json:"delimiter,omitempty" jsonschema:"enum=comma,enum=semicolon,enum=tab,enum=pipe,enum=space,description=What stands between the fields of a text file"`
	Decimal   string            `yaml:"decimal,omitempty" json:"decimal,omitempty" jsonschema:"enum=point,enum=comma,description=Decimal sign of the file"`
	Accept    map[string]string `yaml:"accept,omitempty" json:"accept,omitempty" jsonschema:"description=Cells that hold no plain number and what they are read as; one of the numbers that the message proposed"`
	Encoding  string            `yaml:"encoding,omitempty" json:"encoding,omitempty" jsonschema:"enum=utf-8,enum=utf-16,enum=windows-1252,description=Character encoding of the file"`
}

// Survey is one file of field data.
type Survey struct {
	File        string `yaml:"file" json:"file" jsonschema:"required,description=File as seen from the folder of the job file"`
	Kind        string `yaml:"kind" json:"kind" jsonschema:"required,enum=levels,enum=points,enum=laser,description=levels: a level book; points: a point file; laser: staff readings on a laser plane"`
	Reading     `yaml:",inline"`
	Setup       string             `yaml:"setup,omitempty" json:"setup,omitempty" jsonschema:"description=Laser set-up of the readings that have none in a column setup"`
	Receiver    *Receiver          `yaml:"receiver,omitempty" json:"receiver,omitempty" jsonschema:"description=How the machine receiver of these readings stands above the cutting edge"`
	SideShots   string             `yaml:"sideShots,omitempty" json:"sideShots,omitempty" jsonschema:"enum=fs,description=fs: a foresight without backsight is a side shot"`
	Staffed     Staffed            `yaml:"staffed,omitempty" json:"staffed,omitempty" jsonschema:"description=What the staff or rover stood on in this file"`
	ByCode      map[string]Staffed `yaml:"staffedByCode,omitempty" json:"staffedByCode,omitempty" jsonschema:"description=What was staffed for a code"`
	HeightDatum string             `yaml:"heightDatum,omitempty" json:"heightDatum,omitempty" jsonschema:"description=Height datum of this file when it is stated there"`
	Worth       *PointWorth        `yaml:"uncertainty,omitempty" json:"uncertainty,omitempty" jsonschema:"description=What the levels of a point file are worth"`
	PlanWorth   *Length            `yaml:"planUncertainty,omitempty" json:"planUncertainty,omitempty" jsonschema:"description=Standard uncertainty of the places of this file in plan; that of the job when left out"`
	Date        Date               `yaml:"date,omitempty" json:"date,omitempty" jsonschema:"description=Day of the survey such as 2026-03-05; rework goes by it"`
	Round       int                `yaml:"round,omitempty" json:"round,omitempty" jsonschema:"description=Round of rework that the survey belongs to; 1 is the first survey"`
	Exclude     []Exclusion        `yaml:"exclude,omitempty" json:"exclude,omitempty" jsonschema:"description=Rows left out by a named rule"`
	Line        int                `yaml:"-" json:"-"`
}

// Exclusion leaves rows out, by name or code, for a reason that is printed.
type Exclusion struct {
	Names  []string `yaml:"names,omitempty" json:"names,omitempty" jsonschema:"description=Names of shots; * at the end stands for any ending"`
	Codes  []string `yaml:"codes,omitempty" json:"codes,omitempty" jsonschema:"description=Codes of shots; * at the end stands for any ending"`
	Reason string   `yaml:"reason" json:"reason" jsonschema:"required,description=Why these rows are left out"`
}

// Places is a peg list or chainage table: names with easting and northing, or
// with run and chainage.
type Places struct {
	File    string `yaml:"file" json:"file" jsonschema:"required,description=File as seen from the folder of the job file"`
	Reading `yaml:",inline"`
	Line    int `yaml:"-" json:"-"`
}

// Design is one design file and what to take of it.
type Design struct {
	Name        string            `yaml:"name" json:"name" jsonschema:"required,description=Name the checks use"`
	File        string            `yaml:"file,omitempty" json:"file,omitempty" jsonschema:"description=File as seen from the folder of the job file; a plane and a line need none"`
	Plane       *DesignPlane      `yaml:"plane,omitempty" json:"plane,omitempty" jsonschema:"description=A plane in place of a file"`
	Table       string            `yaml:"table,omitempty" json:"table,omitempty" jsonschema:"enum=byName,enum=byChainage,enum=pipes,description=The file lists design levels by name; or by chainage and offset; or pipes a row each"`
	Pits        string            `yaml:"pits,omitempty" json:"pits,omitempty" jsonschema:"description=File with places of the pits of a table of pipes by name and their rim as level"`
	Between     bool              `yaml:"between,omitempty" json:"between,omitempty" jsonschema:"description=The design runs straight between the rows of one offset in a table by chainage"`
	Points      *DesignPoints     `yaml:"points,omitempty" json:"points,omitempty" jsonschema:"description=A surface is triangulated from the points of the file; beside surface from the points and breaklines of that surface"`
	GradedLine  *DesignLine       `yaml:"line,omitempty" json:"line,omitempty" jsonschema:"description=A straight graded line between two nodes in place of a file"`
	Alignment   *DesignAlignment  `yaml:"alignment,omitempty" json:"alignment,omitempty" jsonschema:"description=An alignment of the file with its profile and crossfalls or cross sections"`
	Surface     string            `yaml:"surface,omitempty" json:"surface,omitempty" jsonschema:"description=Name of the surface in the file"`
	Network     string            `yaml:"network,omitempty" json:"network,omitempty" jsonschema:"description=Name of the pipe network in the file"`
	Unit        *Unit             `yaml:"unit,omitempty" json:"unit,omitempty" jsonschema:"description=Unit of a file that does not say its own"`
	DimUnit     *Unit             `yaml:"pipeSizeUnit,omitempty" json:"pipeSizeUnit,omitempty" jsonschema:"description=Unit of pipe sizes in a file that does not say it"`
	InvertsAt   string            `yaml:"invertsAt,omitempty" json:"invertsAt,omitempty" jsonschema:"enum=centre,enum=innerFace,description=Place the design inverts refer to"`
	Flow        map[string]string `yaml:"flow,omitempty" json:"flow,omitempty" jsonschema:"description=Pit that a pipe with equal inverts flows to"`
	Revision    string            `yaml:"revision,omitempty" json:"revision,omitempty" jsonschema:"description=Revision of this file"`
	SHA256      string            `yaml:"sha256,omitempty" json:"sha256,omitempty" jsonschema:"description=SHA-256 of the file as it was issued; another file stops the job"`
	Former      *Former           `yaml:"former,omitempty" json:"former,omitempty" jsonschema:"description=File of another revision that the fit is shown to as well"`
	HeightDatum string            `yaml:"heightDatum,omitempty" json:"heightDatum,omitempty" jsonschema:"description=Height datum of this file when it is stated there"`
	Line        int               `yaml:"-" json:"-"`
}

// IsNetwork tells whether the design is a pipe network.
func (d *Design) IsNetwork() bool { return d.Network != "" || d.Table == "pipes" }

// DesignPlane is a design plane: a level at a place, the grades along a bearing and
// to the right of it, and an outline beyond which it says nothing.
type DesignPlane struct {
	Easting  Coordinate      `yaml:"easting" json:"easting" jsonschema:"required,description=Easting of the place"`
	Northing Coordinate      `yaml:"northing" json:"northing" jsonschema:"required,description=Northing of the place"`
	Level    Length          `yaml:"level" json:"level" jsonschema:"required,description=Level of the plane there"`
	Bearing  *Bearing        `yaml:"bearing,omitempty" json:"bearing,omitempty" jsonschema:"description=Grid bearing of the first grade; a level plane has none"`
	Grade    *Grade          `yaml:"grade,omitempty" json:"grade,omitempty" jsonschema:"description=Grade along the bearing; + rises"`
	Across   *Grade          `yaml:"across,omitempty" json:"across,omitempty" jsonschema:"description=Grade to the right of the bearing; + rises"`
	Corners  [][2]Coordinate `yaml:"corners,omitempty" json:"corners,omitempty" jsonschema:"description=Easting and northing of each corner; without them the plane has no end"`
}

// Validate asks for a bearing where there are grades, and for three corners.
func (p *DesignPlane) Validate() (f []Fault) {
	add := (*faults)(&f).add
	sloped := p.Grade != nil && p.Grade.Rise != 0 || p.Across != nil && p.Across.Rise != 0
	if sloped && p.Bearing == nil {
		add("", "the plane has grades and no bearing that they run along; add \"bearing:\", such as 123.5 deg")
	}
	if n := len(p.Corners); n == 1 || n == 2 {
		add("corners", "an outline needs at least three corners, here are %d", n)
	}
	return f
}

// Former is a design of another revision, to which the fit is shown and nothing
// is judged.
type Former struct {
	File     string `yaml:"file" json:"file" jsonschema:"required,description=File as seen from the folder of the job file"`
	Revision string `yaml:"revision" json:"revision" jsonschema:"required,description=Revision of this file"`
	Surface  string `yaml:"surface,omitempty" json:"surface,omitempty" jsonschema:"description=Name of the surface in it; that of the design when left out"`
	Network  string `yaml:"network,omitempty" json:"network,omitempty" jsonschema:"description=Name of the pipe network in it; that of the design when left out"`
}

// Shots selects the shots of a check. What is given must all hold; an empty
// selection takes every shot. Names and codes may end in * for any ending.
type Shots struct {
	Names    []string  `yaml:"names,omitempty" json:"names,omitempty" jsonschema:"description=Names of shots; * at the end stands for any ending"`
	Codes    []string  `yaml:"codes,omitempty" json:"codes,omitempty" jsonschema:"description=Codes of shots; * at the end stands for any ending"`
	Layers   []string  `yaml:"layers,omitempty" json:"layers,omitempty" jsonschema:"description=Layers of shots; * at the end stands for any ending"`
	Along    string    `yaml:"along,omitempty" json:"along,omitempty" jsonschema:"description=Name of a design along an alignment that the chainages count on before any station equation; else those of the shots"`
	Runs     []string  `yaml:"runs,omitempty" json:"runs,omitempty" jsonschema:"description=Runs or pipes or lines that shots belong to; * at the end stands for any ending"`
	Surveys  []string  `yaml:"surveys,omitempty" json:"surveys,omitempty" jsonschema:"description=Files of the surveys list"`
	Polygon  *Outline  `yaml:"polygon,omitempty" json:"polygon,omitempty" jsonschema:"description=Shots inside an outline"`
	Chainage *Chainage `yaml:"chainage,omitempty" json:"chainage,omitempty" jsonschema:"description=Shots between two chainages"`
}

// Outline is a polygon: corners here, or named in a GeoJSON file.
type Outline struct {
	Corners [][2]Coordinate `yaml:"corners,omitempty" json:"corners,omitempty" jsonschema:"description=Easting and northing of each corner"`
	File    string          `yaml:"file,omitempty" json:"file,omitempty" jsonschema:"description=GeoJSON file with the outline"`
	Name    string          `yaml:"name,omitempty" json:"name,omitempty" jsonschema:"description=Name of the outline in the file"`
}

// Chainage is a range of chainage, ends included.
type Chainage struct {
	From Length `yaml:"from" json:"from" jsonschema:"required,description=Lowest chainage"`
	To   Length `yaml:"to" json:"to" jsonschema:"required,description=Highest chainage"`
}

// Lot is a part of the work that is accepted or rejected by itself: what lies in
// a polygon, or between two chainages of a run or alignment. An entry with a file
// and no name stands for every named polygon of the file.
type Lot struct {
	Name     string    `yaml:"name,omitempty" json:"name,omitempty" jsonschema:"description=Name of the lot; left out where the polygons of a file bring theirs"`
	Element  string    `yaml:"element,omitempty" json:"element,omitempty" jsonschema:"description=Work element the lot is of"`
	Polygon  *Outline  `yaml:"polygon,omitempty" json:"polygon,omitempty" jsonschema:"description=What lies inside an outline"`
	Chainage *Chainage `yaml:"chainage,omitempty" json:"chainage,omitempty" jsonschema:"description=What lies between two chainages; a shot where two lots meet is in the first of them"`
	Along    string    `yaml:"along,omitempty" json:"along,omitempty" jsonschema:"description=Name of a design along an alignment that the chainages count on before any station equation; else those of the shots"`
	Runs     []string  `yaml:"runs,omitempty" json:"runs,omitempty" jsonschema:"description=Runs or pipes or lines that belong to the lot; * at the end stands for any ending"`
	Line     int       `yaml:"-" json:"-"`
}

// Validate asks for one way to tell what lies in the lot.
func (l *Lot) Validate() (f []Fault) {
	add := (*faults)(&f).add
	switch file := l.Polygon != nil && l.Polygon.File != ""; {
	case l.Polygon == nil && l.Chainage == nil && len(l.Runs) == 0:
		add("", "nothing says what lies in this lot; add \"polygon:\", \"chainage:\" or \"runs:\"")
	case l.Polygon != nil && l.Chainage != nil:
		add("chainage", "a lot lies in a polygon or between chainages, not both; keep one of them")
	case l.Name == "" && !file:
		add("", "the lot has no name; add \"name:\"")
	}
	if l.Along != "" && l.Chainage == nil {
		add("along", "it says what chainages count on, and the lot has none; add \"chainage:\" or leave it out")
	}
	if c := l.Chainage; c != nil && c.From.Length >= c.To.Length {
		add("chainage", "the lot ends at or before its start; \"from\" is the lower chainage")
	}
	return f
}

// Common is what every kind of check has.
type Common struct {
	Name     string    `yaml:"name" json:"name" jsonschema:"required,description=Name of the check in the reports"`
	Element  string    `yaml:"element" json:"element" jsonschema:"required,description=Work element it judges"`
	Clause   string    `yaml:"clause,omitempty" json:"clause,omitempty" jsonschema:"description=Specification and clause of this check"`
	Design   string    `yaml:"design,omitempty" json:"design,omitempty" jsonschema:"description=Name of an entry of designs; needed by every kind of check that compares with a design"`
	Decision *Decision `yaml:"decision,omitempty" json:"decision,omitempty" jsonschema:"description=How uncertainty enters the verdict; simple acceptance when left out"`
	Shots    Shots     `yaml:"shots,omitempty" json:"shots,omitempty" jsonschema:"description=Which shots it judges; every shot when left out"`
}

// Decision is how uncertainty enters the verdict of a check.
type Decision struct {
	Rule   DecisionRule `yaml:"rule" json:"rule" jsonschema:"required,description=Decision rule"`
	Factor Factor       `yaml:"factor,omitempty" json:"factor,omitempty" jsonschema:"description=Guard band as a multiple of the standard uncertainty such as 2"`
	Guard  *Length      `yaml:"guard,omitempty" json:"guard,omitempty" jsonschema:"description=Guard band as a length in place of a factor"`
	Source string       `yaml:"source" json:"source" jsonschema:"required,description=Who asks for this rule"`
}

// DecisionRule is the name of a decision rule.
type DecisionRule struct{ limits.Decision }

// Factor is a multiple, exact in its decimals.
type Factor struct{ unit.Decimal }

// Limits is the rule as data, for the judging.
func (d *Decision) Limits() limits.Rule {
	r := limits.Rule{Decision: d.Rule.Decision, Factor: d.Factor.Decimal, Source: d.Source}
	if d.Guard != nil {
		r.Guard, r.HasGuard = d.Guard.Length, true
	}
	return r
}

// Validate says what the rule lacks.
func (d *Decision) Validate() (f []Fault) {
	if err := d.Limits().Validate(); err != nil {
		(*faults)(&f).add("rule", "%v", err)
	}
	return f
}

// CommonOf returns the common part of any parameters that embed it.
func (c *Common) CommonOf() *Common { return c }

// Check is one entry of checks: the kind of check, and the parameters of that
// kind.
type Check struct {
	Kind     string
	NoDesign bool // of its Kind
	Params   any  // pointer to the struct the Kind made
	Line     int
}

// Kind is a kind of check, as the job file knows it.
type Kind struct {
	Name     string
	Doc      string
	NoDesign bool       // it can do without a design
	Params   func() any // a new pointer to its parameters, a struct that embeds Common inline
}

// Length is a length with its unit: "10 mm".
type Length struct{ unit.Length }

// Coordinate is an easting or northing with its unit: "5800123.456 m". It is
// kept as written, because a full coordinate may be too large for a Length.
type Coordinate struct {
	Value unit.Decimal
	In    unit.Unit
}

// Grade is a grade: "1 in 100", "1 %", "10 mm/m".
type Grade struct{ unit.Grade }

// Bearing is a grid bearing, or another angle from nought: "123.5 deg", "137.2 gon".
type Bearing struct {
	plane.Angle
	Text string // as written
}

// Rule is a closing rule: "12 mm sqrt(K)".
type Rule struct{ levels.Rule }

// Unit is the name of a unit: "m", "ft", "ftUS".
type Unit struct{ unit.Unit }

// FileUnit is the unit of a table file, which may also be feet and inches.
type FileUnit struct {
	Unit
	FeetInches bool
}

// Grid is a plan grid: "EPSG:7855", or "local" with a name.
type Grid struct {
	EPSG string // digits
	Name string // of a local grid
}

// Staffed is what the staff stood on.
type Staffed string
