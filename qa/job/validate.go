package job

import (
	"fmt"
	"slices"
	"strings"

	"sightrail/formats/unit"
)

// number fills the line numbers of the entries that have one.
func (j *Job) number() {
	line := func(format string, i int) int { return j.Where(fmt.Sprintf(format, i)).Row }
	for i := range j.BenchMarks {
		j.BenchMarks[i].Line = line("benchMarks[%d]", i)
	}
	for i := range j.LaserSetups {
		j.LaserSetups[i].Line = line("laserSetups[%d]", i)
	}
	for i := range j.Surveys {
		j.Surveys[i].Line = line("surveys[%d]", i)
	}
	for i := range j.Places {
		j.Places[i].Line = line("places[%d]", i)
	}
	for i := range j.Lots {
		j.Lots[i].Line = line("lots[%d]", i)
	}
	for i := range j.Designs {
		j.Designs[i].Line = line("designs[%d]", i)
	}
}

// faults collects what is wrong.
type faults []Fault

func (f *faults) add(key, format string, args ...any) {
	*f = append(*f, Fault{key, fmt.Sprintf(format, args...)})
}

// printUnits are the units that reports print levels in.
var printUnits = []unit.Unit{unit.M, unit.MM, unit.Ft, unit.FtUS}

// Validate looks at what the job says of itself.
func (j *Job) Validate() (f []Fault) {
	if !slices.Contains(printUnits, j.Units.Unit) {
		(*faults)(&f).add("units", "%q is too coarse or unusual to print levels in; use m, mm, ft or ftUS", j.Units.Name)
	}
	if j.PlanWorth != nil && j.PlanWorth.Length <= 0 {
		(*faults)(&f).add("planUncertainty", "a standard uncertainty is more than nought; write one, such as 20 mm, or leave the key out")
	}
	if j.SiteGrid != nil && j.Grid.EPSG != "" {
		(*faults)(&f).add("siteGrid", "the grid of the job is %s and needs no fit; leave siteGrid out, or name the grid of the job as a local one", j.Grid)
	}
	if j.Shift != "" && j.Grid.EPSG == "" && j.SiteGrid == nil {
		(*faults)(&f).add("shift", "a local grid has no datum to shift; leave the key out, or name the grid by its EPSG code")
	}
	return f
}

// Validate asks for easting and northing together.
func (b *BenchMark) Validate() (f []Fault) {
	switch {
	case b.Easting != nil && b.Northing == nil:
		(*faults)(&f).add("easting", "the mark has an easting and no northing; give both or neither")
	case b.Northing != nil && b.Easting == nil:
		(*faults)(&f).add("northing", "the mark has a northing and no easting; give both or neither")
	}
	if b.Worth != nil && b.Worth.Length < 0 {
		(*faults)(&f).add("uncertainty", "a standard uncertainty is not negative")
	}
	return f
}

// Validate asks for the source of a closing rule, and for a way to adjust where
// adjusted levels are judged.
func (l *Levelling) Validate() (f []Fault) {
	add := (*faults)(&f).add
	if l.Closing.Given() && l.Source == "" {
		add("closing", "the closing rule %q has no source; add \"source:\" with the clause or instruction that sets it", l.Closing.Text)
	}
	if l.Distribute != "" && !l.Closing.Given() {
		add("distribute", "a misclosure is shared out only inside its limit, and there is no limit; add \"closing:\" with the rule, such as \"12 mm sqrt(K)\"")
	}
	if l.Outside != "" && l.Distribute == "" {
		add("distributeOutside", "nothing says how a misclosure is shared out; add \"distribute: setups\" or \"distribute: distance\"")
	}
	if l.HalfInterval != nil && l.HalfInterval.Length <= 0 {
		add("halfInterval", "the limit is more than nought; write the largest difference of the half intervals, such as 2 mm")
	}
	if l.Stadia < 0 || l.Stadia > 1000 {
		add("stadia", "%d is no stadia constant; it is 100 in most instruments", l.Stadia)
	}
	if l.Staff != nil && l.Staff.Length <= 0 {
		add("staff", "a staff is longer than nought; write its length, such as 5 m")
	}
	if l.Judge == "adjusted" && l.Distribute == "" {
		add("judge", "adjusted levels are to be judged, and nothing says how to adjust; add \"distribute: setups\" or \"distribute: distance\", or judge raw levels")
	}
	return f
}

// Validate asks for one figure of a sight, and refuses what is none.
func (w *Worth) Validate() (f []Fault) {
	add := (*faults)(&f).add
	for _, x := range []struct {
		key string
		l   *Length
	}{{"reading", w.Reading}, {"setup", w.Setup}, {"perKm", w.PerKm}} {
		if x.l != nil && x.l.Length <= 0 {
			add(x.key, "a standard uncertainty is more than nought; write one, or leave the key out")
		}
	}
	switch {
	case w.Reading != nil && w.PerKm != nil:
		add("perKm", "a sight is worth what \"reading\" says or what \"perKm\" says; keep one of the two")
	case w.Reading == nil && w.PerKm == nil:
		add("", "nothing says what a sight is worth; add \"reading:\" (such as 1 mm) or \"perKm:\" (such as 2 mm)")
	}
	return f
}

// Validate refuses what is no uncertainty.
func (w *PointWorth) Validate() (f []Fault) {
	add := (*faults)(&f).add
	if w.Point.Length <= 0 {
		add("point", "a standard uncertainty is more than nought")
	}
	if w.Shared != nil && w.Shared.Length < 0 {
		add("shared", "a standard uncertainty is not negative")
	}
	return f
}

// Validate asks for the source of the limits.
func (c *CheckShots) Validate() (f []Fault) {
	add := (*faults)(&f).add
	for _, l := range []struct {
		key   string
		limit *Length
	}{{"level", c.Level}, {"plan", c.Plan}} {
		if l.limit != nil && l.limit.Length < 0 {
			add(l.key, "the limit is negative and nothing could be inside it; write the largest difference without a sign")
		}
	}
	if c.Level == nil && c.Plan == nil {
		add("", "there is no limit here; add \"level:\" or \"plan:\", or leave checkShots out")
	} else if c.Source == "" {
		add("", "the limits for check shots have no source; add \"source:\" with the clause or instruction that sets them")
	}
	return f
}

// Validate looks at keys that are only for books.
func (s *Survey) Validate() (f []Fault) {
	if s.Kind != "levels" && s.SideShots != "" {
		(*faults)(&f).add("sideShots", "a point file has no foresights; leave \"sideShots\" out, or set \"kind: levels\" if this is a level book")
	}
	if s.PlanWorth != nil && s.PlanWorth.Length <= 0 {
		(*faults)(&f).add("planUncertainty", "a standard uncertainty is more than nought; write one, such as 20 mm, or leave the key out")
	}
	if s.Kind != "levels" && s.Unit != nil && s.Unit.FeetInches {
		(*faults)(&f).add("unit", "feet and inches are read in level books only; turn the file into decimal feet, and declare which foot")
	}
	if s.Kind == "laser" && s.Worth != nil {
		(*faults)(&f).add("uncertainty", "what readings on a laser plane are worth is said at the set-up; write the figures in \"laserSetups\", key \"uncertainty\"")
	}
	if s.Kind == "levels" && s.Worth != nil {
		(*faults)(&f).add("uncertainty", "what the levels of a book are worth follows from its readings and set-ups; write the figures in \"levelling\", key \"uncertainty\"")
	}
	return f
}

// Validate refuses feet and inches.
func (p *Places) Validate() (f []Fault) {
	if p.Unit != nil && p.Unit.FeetInches {
		(*faults)(&f).add("unit", "feet and inches are read in level books only; turn the file into decimal feet, and declare which foot")
	}
	return f
}

// Validate asks for something to exclude.
func (x *Exclusion) Validate() (f []Fault) {
	if len(x.Names) == 0 && len(x.Codes) == 0 {
		(*faults)(&f).add("", "the rule says neither which names nor which codes are left out; add \"names:\" or \"codes:\"")
	}
	stars(&f, "names", x.Names)
	stars(&f, "codes", x.Codes)
	return f
}

// Validate asks what to take of the file.
func (d *Design) Validate() (f []Fault) {
	add := (*faults)(&f).add
	alone := d.Plane != nil || d.GradedLine != nil
	switch n := count(d.Surface != "" || d.Points != nil, d.Network != "", d.Plane != nil, d.Table != "", d.GradedLine != nil, d.Alignment != nil); {
	case d.Plane != nil && (d.File != "" || n > 1):
		add("plane", "a plane is a design of its own; leave file, surface, points, network, table and line out, or make two entries")
	case d.GradedLine != nil && (d.File != "" || n > 1):
		add("line", "a line is a design of its own; leave file, surface, points, network, table and plane out, or make two entries")
	case !alone && d.File == "":
		add("", "the key \"file\" is missing; add it (File as seen from the folder of the job file), or \"plane:\" or \"line:\" for a plane or a graded line")
	case d.Table != "" && n > 1:
		add("table", "a level table is a design of its own; leave surface, points and network out, or make two entries")
	case d.Alignment != nil && n > 1:
		add("alignment", "a design along an alignment is one of its own; leave surface, points, network and table out, or make two entries")
	case d.Network != "" && d.Points != nil:
		add("points", "points make a surface, and this entry is a pipe network; make two entries")
	case n == 0:
		add("", "the design %q does not say what to take of %q; add \"surface:\" or \"network:\" with its name in the file, \"alignment:\" for one with its profile, \"points:\" to make a surface of its points, or \"table: byName\" or \"byChainage\" for a list of design levels", d.Name, d.File)
	}
	if d.Between && d.Table != "byChainage" {
		add("between", "this key is for a table by chainage; add \"table: byChainage\" or leave the key out")
	}
	if d.SHA256 != "" && (len(d.SHA256) != 64 || strings.Trim(strings.ToLower(d.SHA256), "0123456789abcdef") != "") {
		add("sha256", "%q is no SHA-256; it has 64 digits from 0 to f, as \"sightrail inspect\" prints it", d.SHA256)
	}
	if d.Former != nil && d.Former.Revision == d.Revision {
		add("former", "the other revision has the same name %q; name the revision of each file", d.Revision)
	}
	if d.Pits != "" && d.Table != "pipes" {
		add("pits", "this key is for a table of pipes; add \"table: pipes\" or leave the key out")
	}
	if !d.IsNetwork() {
		for _, k := range []struct {
			key   string
			given bool
		}{{"pipeSizeUnit", d.DimUnit != nil}, {"invertsAt", d.InvertsAt != ""}, {"flow", len(d.Flow) > 0}} {
			if k.given {
				add(k.key, "this key is for pipes, and the design names no pipe network; add \"network:\" or \"table: pipes\" or leave the key out")
			}
		}
	}
	return f
}

// count is how many are true.
func count(list ...bool) (n int) {
	for _, x := range list {
		if x {
			n++
		}
	}
	return n
}

// Validate refuses a * that is not at the end.
func (s *Shots) Validate() (f []Fault) {
	stars(&f, "names", s.Names)
	stars(&f, "codes", s.Codes)
	stars(&f, "layers", s.Layers)
	stars(&f, "runs", s.Runs)
	stars(&f, "surveys", s.Surveys)
	return f
}

func stars(f *[]Fault, key string, patterns []string) {
	for i, p := range patterns {
		if strings.Contains(strings.TrimSuffix(p, "*"), "*") {
			(*faults)(f).add(fmt.Sprintf("%s[%d]", key, i), "%q has a * that is not at its end; a * stands for any ending and nothing else", p)
		}
	}
}

// Validate asks for corners or a file.
func (o *Outline) Validate() (f []Fault) {
	add := (*faults)(&f).add
	switch {
	case len(o.Corners) > 0 && o.File != "":
		add("", "the polygon has corners here and a file as well; keep one of them")
	case len(o.Corners) == 0 && o.File == "":
		add("", "the polygon has neither corners nor a file; add \"corners:\" or \"file:\"")
	case o.File == "" && len(o.Corners) < 3:
		add("corners", "a polygon needs at least three corners, here are %d", len(o.Corners))
	case o.File == "" && o.Name != "":
		add("name", "the name is that of an outline in a file, and there is no file; leave the name out, or add \"file:\"")
	}
	return f
}

// Validate asks for a range that runs upwards.
func (c *Chainage) Validate() (f []Fault) {
	if c.From.Length > c.To.Length {
		(*faults)(&f).add("from", "the range begins beyond its end, no chainage lies in it; exchange \"from\" and \"to\"")
	}
	return f
}

// contradictions finds names that lead nowhere, names given twice, and parts of
// the job that speak against each other. Keys are paths from the root.
func (j *Job) contradictions() []Fault {
	var f faults
	j.names(&f)
	for i := range j.Surveys {
		s := &j.Surveys[i]
		j.datum(&f, fmt.Sprintf("surveys[%d].heightDatum", i), s.HeightDatum)
		for k := range i {
			if o := &j.Surveys[k]; o.File == s.File && o.Sheet == s.Sheet {
				f.add(fmt.Sprintf("surveys[%d].file", i), "%q is listed in line %d already, and its rows would count twice; keep one of them", s.File, o.Line)
				break
			}
		}
	}
	j.lasers(&f)
	j.collimator(&f)
	j.setouts(&f)
	j.nonconformances(&f)
	for i := range j.Designs {
		d := &j.Designs[i]
		j.datum(&f, fmt.Sprintf("designs[%d].heightDatum", i), d.HeightDatum)
		if d.Revision != "" && j.Revision != "" && d.Revision != j.Revision {
			f.add(fmt.Sprintf("designs[%d].revision", i), "the design %q is revision %q, the job calls for revision %q (line %d); get the right file, or correct the job",
				d.Name, d.Revision, j.Revision, j.Where("revision").Row)
		}
	}
	for i := range j.Checks {
		j.check(&f, i)
	}
	j.acceptances(&f)
	return f
}

// datum compares height datums as text.
func (j *Job) datum(f *faults, key, datum string) {
	if datum != "" && datum != j.HeightDatum {
		f.add(key, "the height datum here is %q, that of the job is %q (line %d); levels of two datums cannot be compared: reduce the file to the datum of the job, or correct the name",
			datum, j.HeightDatum, j.Where("heightDatum").Row)
	}
}

// names finds names that are given twice in one list.
func (j *Job) names(f *faults) {
	unique := func(n int, name func(int) string, key func(int) string, what string) {
		first := map[string]string{}
		for i := range n {
			if k, twice := first[name(i)]; twice {
				f.add(key(i), "there is %s %q in line %d already; give this one another name", what, name(i), j.Where(k).Row)
				continue
			}
			first[name(i)] = key(i)
		}
	}
	in := func(list string) func(int) string {
		return func(i int) string { return fmt.Sprintf("%s[%d].name", list, i) }
	}
	unique(len(j.BenchMarks), func(i int) string { return j.BenchMarks[i].Name }, in("benchMarks"), "a bench mark")
	unique(len(j.Instruments), func(i int) string { return j.Instruments[i].Name }, in("instruments"), "an instrument")
	unique(len(j.LaserSetups), func(i int) string { return j.LaserSetups[i].Name }, in("laserSetups"), "a laser set-up")
	unique(len(j.Designs), func(i int) string { return j.Designs[i].Name }, in("designs"), "a design")
	unique(len(j.Lots), func(i int) string {
		if j.Lots[i].Name == "" {
			return fmt.Sprintf("entry %d", i+1) // its names are in a file
		}
		return j.Lots[i].Name
	}, in("lots"), "a lot")
	unique(len(j.Setout), func(i int) string { return j.Setout[i].Name }, in("setout"), "a set-out sheet")
	unique(len(j.Checks), func(i int) string { return j.common(i).Name },
		func(i int) string { return fmt.Sprintf("checks[%d].%s.name", i, j.Checks[i].Kind) }, "a check")
}

// common returns the common part of a check.
func (j *Job) common(i int) *Common {
	return j.Checks[i].Params.(interface{ CommonOf() *Common }).CommonOf()
}

// check looks up what a check names elsewhere in the job.
func (j *Job) check(f *faults, i int) {
	c := j.common(i)
	path := fmt.Sprintf("checks[%d].%s", i, j.Checks[i].Kind)
	designs := make([]string, len(j.Designs))
	for k := range j.Designs {
		designs[k] = j.Designs[k].Name
	}
	switch {
	case c.Design == "" && j.Checks[i].NoDesign:
	case c.Design == "":
		f.add(path, "this check compares with a design and names none; add \"design:\", one of %s", list(quoted(designs)))
	case !slices.Contains(designs, c.Design):
		f.add(path+".design", "no design is named %q; the designs of this job are %s%s", c.Design, list(quoted(designs)), didYouMean(c.Design, designs))
	}
	files := make([]string, len(j.Surveys))
	for k := range j.Surveys {
		files[k] = j.Surveys[k].File
	}
	for k, s := range c.Shots.Surveys {
		if !slices.ContainsFunc(files, func(file string) bool { return fits([]string{s}, file) }) {
			f.add(fmt.Sprintf("%s.shots.surveys[%d]", path, k), "no survey has the file %q; the files of surveys are %s%s", s, list(quoted(files)), didYouMean(s, files))
		}
	}
}

func quoted(words []string) []string {
	out := make([]string, len(words))
	for i, w := range words {
		out[i] = fmt.Sprintf("%q", w)
	}
	return out
}
