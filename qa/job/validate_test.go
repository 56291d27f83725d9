package job

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestContradictions(t *testing.T) {
	const (
		designs = `designs: [{name: pad, file: pad.xml, surface: "FG"}]`
		kind    = "kind: levels"
		design  = "      design: pad"
	)
	for _, c := range []struct {
		name, old, with string
		want            []string
	}{
		{"design that is not there", design, "      design: ▸pda",
			[]string{`checks.level.design: no design is named "pda"; the designs of this job are "pad"; did you mean "pad"?`}},
		{"survey that is not there", design, design + "\n      shots: {surveys: [levels*, ▸points.csv]}",
			[]string{`checks.level.shots.surveys: no survey has the file "points.csv"; the files of surveys are "levels.csv"`}},
		{"design named twice", designs, "revision: C\ndesigns:\n  - {name: pad, file: pad.xml, surface: A}\n  - {name: ▸pad, file: drain.xml, network: B}",
			[]string{`designs.name: there is a design "pad" in line 10 already; give this one another name`}},
		{"check named twice", "checks:\n  - level:\n      name: Pad", "checks:\n  - fall: {name: Pad, element: E, design: pad}\n  - level:\n      name: ▸Pad",
			[]string{`checks.level.name: there is a check "Pad" in line 10 already; give this one another name`}},
		{"mark named twice", "units: m", "units: m\nbenchMarks:\n  - {name: A, level: 1 m, source: s, date: d}\n  - {name: ▸A, level: 2 m, source: s, date: d}",
			[]string{`benchMarks.name: there is a bench mark "A" in line 4 already; give this one another name`}},
		{"instrument named twice", "units: m", "units: m\ninstruments: [{name: A}, {name: ▸A}]",
			[]string{`instruments.name: there is an instrument "A" in line 3 already; give this one another name`}},
		{"survey listed twice", kind, kind + "\n  - {file: ▸levels.csv, kind: levels}",
			[]string{`surveys.file: "levels.csv" is listed in line 6 already, and its rows would count twice; keep one of them`}},
		{"tolerance without a side", "{upper: 10 mm, source: clause 3}", "{source: clause 3}",
			[]string{`checks.level.tolerance: the tolerance has neither a lower nor an upper limit; give at least one, or the name of a preset`}},
		{"tolerance upside down", "{upper: 10 mm", "{lower: ▸30 mm, upper: 10 mm",
			[]string{`checks.level.tolerance.lower: the lower limit is above the upper one, nothing could be inside; below design is negative: "lower: -30 mm"`}},
		{"optional tolerance without a side", "checks:", "checks:\n  - fall: {name: F, element: E, design: pad, ▸between: {source: s}}",
			[]string{`checks.fall.between: the tolerance has neither a lower nor an upper limit; give at least one, or the name of a preset`}},
		{"rule of a kind of check", "checks:", "checks:\n  - fall: {name: F, element: E, design: pad, least: ▸1 in 80}",
			[]string{`checks.fall.least: the least grade has no source`}},
		{"closing rule without source", "units: m", "units: m\nlevelling: {closing: ▸12 mm sqrt(K)}",
			[]string{`levelling.closing: the closing rule "12 mm sqrt(K)" has no source; add "source:" with the clause or instruction that sets it`}},
		{"adjusted without a way", "units: m", "units: m\nlevelling: {closing: 6 mm, source: s, judge: ▸adjusted}",
			[]string{`levelling.judge: adjusted levels are to be judged, and nothing says how to adjust; add "distribute: setups" or "distribute: distance", or judge raw levels`}},
		{"distribute without a limit", "units: m", "units: m\nlevelling: {distribute: ▸setups}",
			[]string{`levelling.distribute: a misclosure is shared out only inside its limit, and there is no limit; add "closing:" with the rule, such as "12 mm sqrt(K)"`}},
		{"check shots without source", "units: m", "units: m\n▸checkShots: {level: 10 mm}",
			[]string{`checkShots: the limits for check shots have no source; add "source:" with the clause or instruction that sets them`}},
		{"check shots without limit", "units: m", "units: m\n▸checkShots: {source: s}",
			[]string{`checkShots: there is no limit here; add "level:" or "plan:", or leave checkShots out`}},
		{"negative check shot limit", "units: m", "units: m\ncheckShots: {plan: ▸-5 mm, source: s}",
			[]string{`checkShots.plan: the limit is negative and nothing could be inside it; write the largest difference without a sign`}},
		{"mark with half a place", "units: m", "units: m\nbenchMarks: [{name: A, level: 1 m, source: s, date: d, northing: ▸5 m}, {name: B, level: 1 m, source: s, date: d, easting: ▸5 m}]",
			[]string{`benchMarks.northing: the mark has a northing and no easting; give both or neither`, `benchMarks.easting: the mark has an easting and no northing; give both or neither`}},
		{"side shots of a point file", kind, "kind: points\n    sideShots: ▸fs",
			[]string{`surveys.sideShots: a point file has no foresights; leave "sideShots" out, or set "kind: levels" if this is a level book`}},
		{"two figures for a sight", "units: m", "units: m\nlevelling: {uncertainty: {reading: 1 mm, perKm: ▸2 mm, source: s}}",
			[]string{`levelling.uncertainty.perKm: a sight is worth what "reading" says or what "perKm" says; keep one of the two`}},
		{"no figure for a sight", "units: m", "units: m\nlevelling:\n  ▸uncertainty: {setup: 3 mm, source: s}",
			[]string{`levelling.uncertainty: nothing says what a sight is worth; add "reading:" (such as 1 mm) or "perKm:" (such as 2 mm)`}},
		{"feet and inches of a point file", kind, "kind: points\n    unit: ▸ft-in",
			[]string{`surveys.unit: feet and inches are read in level books only; turn the file into decimal feet, and declare which foot`}},
		{"uncertainty of nought", "units: m", "units: m\nlevelling: {uncertainty: {reading: ▸0 mm, source: s}}",
			[]string{`levelling.uncertainty.reading: a standard uncertainty is more than nought; write one, or leave the key out`}},
		{"uncertainty of a book", kind, kind + "\n    ▸uncertainty: {point: 1 mm, source: s}",
			[]string{`surveys.uncertainty: what the levels of a book are worth follows from its readings and set-ups; write the figures in "levelling", key "uncertainty"`}},
		{"exclusion of everything", kind, kind + "\n    exclude:\n      - ▸reason: bumped",
			[]string{`surveys.exclude: the rule says neither which names nor which codes are left out; add "names:" or "codes:"`}},
		{"star in the middle", design, design + "\n      shots: {codes: [▸F*G, FG*]}",
			[]string{`checks.level.shots.codes: "F*G" has a * that is not at its end; a * stands for any ending and nothing else`}},
		{"polygon without corners", design, design + "\n      shots: {▸polygon: {name: Lot 7}}",
			[]string{`checks.level.shots.polygon: the polygon has neither corners nor a file; add "corners:" or "file:"`}},
		{"polygon of two kinds", design, design + "\n      shots: {▸polygon: {file: a.geojson, corners: [[1 m, 2 m]]}}",
			[]string{`checks.level.shots.polygon: the polygon has corners here and a file as well; keep one of them`}},
		{"polygon of two corners", design, design + "\n      shots: {polygon: {▸corners: [[1 m, 2 m], [3 m, 4 m]]}}",
			[]string{`checks.level.shots.polygon.corners: a polygon needs at least three corners, here are 2`}},
		{"name of no file", design, design + "\n      shots: {polygon: {name: ▸x, corners: [[1 m, 2 m], [3 m, 4 m], [0 m, 0 m]]}}",
			[]string{`checks.level.shots.polygon.name: the name is that of an outline in a file, and there is no file; leave the name out, or add "file:"`}},
		{"chainage backwards", design, design + "\n      shots: {chainage: {from: ▸20 m, to: 0.01 km}}",
			[]string{`checks.level.shots.chainage.from: the range begins beyond its end, no chainage lies in it; exchange "from" and "to"`}},
		{"design without surface or network", designs, "designs: [▸{name: pad, file: pad.xml}]",
			[]string{`designs: the design "pad" does not say what to take of "pad.xml"; add "surface:" or "network:" with its name in the file, "alignment:" for one with its profile, "points:" to make a surface of its points, or "table: byName" or "byChainage" for a list of design levels`}},
		{"pipe keys of a surface", designs, "designs: [{name: pad, file: pad.xml, surface: FG, invertsAt: ▸centre, pipeSizeUnit: ▸mm, ▸flow: {P1: A}}]",
			[]string{
				`designs.invertsAt: this key is for pipes, and the design names no pipe network; add "network:" or "table: pipes" or leave the key out`,
				`designs.pipeSizeUnit: this key is for pipes, and the design names no pipe network; add "network:" or "table: pipes" or leave the key out`,
				`designs.flow: this key is for pipes, and the design names no pipe network; add "network:" or "table: pipes" or leave the key out`,
			}},
		{"stale design", designs, "revision: C\ndesigns: [{name: pad, file: pad.xml, surface: FG, revision: ▸B}]",
			[]string{`designs.revision: the design "pad" is revision "B", the job calls for revision "C" (line 8); get the right file, or correct the job`}},
		{"revisions are text", designs, "revision: 1.10\ndesigns: [{name: pad, file: pad.xml, surface: FG, revision: ▸1.1}]",
			[]string{`designs.revision: the design "pad" is revision "1.1", the job calls for revision "1.10" (line 8); get the right file, or correct the job`}},
		{"height datum of a survey", kind, kind + "\n    heightDatum: ▸ahd",
			[]string{`surveys.heightDatum: the height datum here is "ahd", that of the job is "AHD" (line 4); levels of two datums cannot be compared: reduce the file to the datum of the job, or correct the name`}},
		{"height datum of a design", designs, "designs: [{name: pad, file: pad.xml, surface: FG, heightDatum: ▸local}]",
			[]string{`designs.heightDatum: the height datum here is "local", that of the job is "AHD" (line 4); levels of two datums cannot be compared: reduce the file to the datum of the job, or correct the name`}},
		{"unit to print in", "units: m", "units: ▸km",
			[]string{`units: "km" is too coarse or unusual to print levels in; use m, mm, ft or ftUS`}},
		{"all at once", "units: m", "units: ▸km\nlevelling: {closing: ▸6 mm}\nrevision: C\nlot: 5\n▸checkShots: {level: 5 mm}",
			[]string{
				`units: "km" is too coarse or unusual to print levels in; use m, mm, ft or ftUS`,
				`levelling.closing: the closing rule "6 mm" has no source; add "source:" with the clause or instruction that sets it`,
				`checkShots: the limits for check shots have no source; add "source:" with the clause or instruction that sets them`,
			}},
	} {
		t.Run(c.name, func(t *testing.T) {
			text := change(t, c.old, c.with)
			if !strings.Contains(text, mark) {
				text = strings.Replace(text, "tolerance:", mark+"tolerance:", 1)
			}
			expect(t, text, c.want...)
		})
	}
}

// What looks like a contradiction and is none.
func TestNoContradiction(t *testing.T) {
	for _, c := range []struct{ name, old, with string }{
		{"limits that are equal", "{upper: 10 mm", "{lower: 1 cm, upper: 10 mm"},
		{"a chainage range of one place", "      design: pad", "      design: pad\n      shots: {chainage: {from: 20 m, to: 0.02 km}}"},
		{"two sheets of one workbook", "kind: levels", "kind: levels\n    sheet: A\n  - {file: levels.csv, kind: levels, sheet: B}"},
		{"a design without revision", "units: m", "units: m\nrevision: C"},
		{"a design with a revision the job does not ask for", `surface: "FG"`, `surface: "FG", revision: B`},
		{"surface and network of one file", `surface: "FG"`, `surface: "FG", network: N, invertsAt: innerFace`},
		{"names that two lists share", "units: m", "units: m\ninstruments: [{name: pad}]"},
	} {
		_, err := Load("job.yaml", []byte(change(t, c.old, c.with)), testKinds)
		require.NoError(t, err, c.name)
	}
}
