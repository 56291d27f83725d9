package job

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/qa/limits"
)

type zonedParams struct {
	Common    `yaml:",inline"`
	Tolerance ZonedTolerance `yaml:"tolerance" json:"tolerance" jsonschema:"required,description=Limits"`
}

var zonedKinds = append([]Kind{{Name: "zoned", Doc: "With zones.", Params: func() any { return new(zonedParams) }}}, testKinds...)

// withTolerance is a job whose one check has the tolerance, in a unit.
func withTolerance(tolerance, units, more string) string {
	return "project: P\nunits: " + units + "\ngrid: local Site grid A\nheightDatum: AHD\nsurveys: [{file: p.csv, kind: points}]\ndesigns: [{name: pad, file: pad.xml, surface: FG}]\n" +
		"checks:\n  - zoned: {name: Pad, element: E, design: pad, tolerance: " + tolerance + "}\n" + more
}

func loadTolerance(t *testing.T, tolerance, units, more string) (*Job, string) {
	t.Helper()
	j, err := Load("job.yaml", []byte(withTolerance(tolerance, units, more)), zonedKinds)
	if err != nil {
		return nil, err.Error()
	}
	return j, ""
}

// A preset brings the limits and the citation of its document; the source of the
// job stands before it. The figures are those of the table of presets.
func TestPresetInPlaceOfLimits(t *testing.T) {
	j, msg := loadTolerance(t, "{preset: tnz-b02-basecourse, source: contract 4.1}", "m", "")
	require.Empty(t, msg)
	l := j.Checks[0].Params.(*zonedParams).Tolerance.Limits()
	assert.Equal(t, "-5 / +15 mm", l.String())
	assert.Equal(t, "contract 4.1; preset tnz-b02-basecourse: New Zealand, TNZ B/02:2005, 5.1(b), Figure 1 (copy of the text)", l.Source)
	// the foot is that of the job: 0.1 of it
	for units, want := range map[string]string{"ft": "30.48", "ftUS": "30.480060960121"} {
		j, msg = loadTolerance(t, "{preset: kentucky-subgrade-final}", units, "")
		require.Empty(t, msg)
		u := j.Units.Unit
		l := j.Checks[0].Params.(*zonedParams).Tolerance.Limits()
		assert.Equal(t, u.Size/10, l.Upper, want)
		assert.Equal(t, -u.Size/10, l.Lower)
	}
	assert.False(t, Tolerance{Preset: "nobody"}.Limits().Given(), "what cannot be used allows nothing to be judged")
	for _, p := range limits.Presets() {
		_, err := Tolerance{Preset: p.Name, foot: j.Units.Unit}.ofPreset()
		if p.Name != "tauranga-gravity-pipe" {
			assert.NoError(t, err, p.Name)
		}
	}
}

// What is wrong with limits, zones and rules is said with what to do.
func TestTolerancesThatAreRefused(t *testing.T) {
	const near = "near: {distance: 300 mm, corners: [[0 m, 0 m], [1 m, 0 m]]}"
	for tolerance, want := range map[string]string{
		"{preset: tnz-b02-basecours}":                                                                                          `there is no preset "tnz-b02-basecours"; did you mean "tnz-b02-basecourse"?; "sightrail presets" lists them`,
		"{preset: tnz-b02-basecourse, upper: 3 mm}":                                                                            "a preset brings its limits, and limits stand here as well; keep one of the two",
		"{preset: kentucky-subgrade-final}":                                                                                    `the limits of the preset "kentucky-subgrade-final" are in feet, and the job is in m, which does not say which foot`,
		"{preset: tauranga-gravity-pipe}":                                                                                      `the limits of the preset "tauranga-gravity-pipe" depend on the size of the pipe`,
		"{preset: aci117-slab-sample}":                                                                                         `the preset "aci117-slab-sample" is for another measure (thickness: built minus specified thickness), and this check judges level`,
		"{upper: 3 mm}":                                                                                                        `the key "source" is missing; add it`,
		"{upper: 3 mm, source: s, zones: []}":                                                                                  "the list is empty",
		"{zones: [{name: a, upper: 1 mm, source: s}]}":                                                                         `nothing says what lies in this zone; add "polygon:" or "near:"`,
		"{zones: [{name: a, " + near + ", upper: 1 mm}]}":                                                                      `the key "source" is missing`,
		"{zones: [{name: a, " + near + ", source: s}]}":                                                                        "neither a lower nor an upper limit",
		"{zones: [{name: a, " + near + ", preset: aci117-slab-sample}]}":                                                       "is for another measure",
		"{source: s, zones: [{name: a, " + near + ", upper: 1 mm, source: s}]}":                                                "neither a lower nor an upper limit",
		"{zones: [{name: a, near: {distance: 3 mm}, upper: 1 mm, source: s}]}":                                                 "nothing says which line is meant",
		"{zones: [{name: a, near: {distance: -3 mm, designOutline: true}, upper: 1 mm, source: s}]}":                           "the distance is negative",
		"{zones: [{name: a, near: {distance: 3 mm, designOutline: true, codes: [A]}, upper: 1 mm, source: s}]}":                "the line is given in 2 ways",
		"{zones: [{name: a, near: {distance: 3 mm, codes: ['A*B']}, upper: 1 mm, source: s}]}":                                 "has a * that is not at its end",
		"{zones: [{name: a, near: {distance: 3 mm, corners: [[0 m, 0 m]]}, upper: 1 mm, source: s}]}":                          "a line has two corners or more",
		"{zones: [{name: a, near: {distance: 3 mm, designOutline: true, name: x}, upper: 1 mm, source: s}]}":                   "the name is that of a line in a file",
		"{zones: [{name: a, polygon: {corners: [[0 m, 0 m], [1 m, 0 m], [1 m, 1 m]]}, " + near + ", upper: 1 mm, source: s}]}": "a zone lies in a polygon or near a line, not both",
		"{zones: [{name: a, " + near + ", upper: 1 mm, source: s}, {name: a, " + near + ", upper: 1 mm, source: s}]}":          `there is a zone "a" already`,
	} {
		_, msg := loadTolerance(t, tolerance, "m", "")
		assert.Contains(t, msg, want, tolerance)
		assert.Equal(t, 1, strings.Count(msg, " | ")/2, "%s: one problem, with its line: %s", tolerance, msg)
	}
}

// Rules of acceptance: a word, one, or a list of them; and what is wrong with them.
func TestAcceptanceRules(t *testing.T) {
	const good = "{upper: 3 mm, source: s}"
	j, msg := loadTolerance(t, good, "m", "acceptance: {plan: at most, bad: 1, in: 10, consecutive: true, mostBeyond: 5 mm, source: clause 902.3}\n")
	require.Empty(t, msg)
	require.Len(t, j.Acceptance, 1)
	p := &j.Acceptance[0]
	assert.Equal(t, "at most 1 of any 10 consecutive values beyond limits, and by at most 5 mm", p.Words())
	assert.True(t, p.For("Pad"))
	j, msg = loadTolerance(t, good, "m", "acceptance:\n  - {checks: [Pad], plan: mean and deviation, quality: 2.5 %, source: s}\n")
	require.Empty(t, msg)
	plan, err := j.Acceptance[0].Limits(3)
	require.NoError(t, err)
	assert.Equal(t, "1.12", plan.(limits.Variables).K.String(), limits.FactorTableSource)
	_, err = j.Acceptance[0].Limits(6)
	assert.ErrorContains(t, err, "has no sample of 6 values")
	assert.Contains(t, j.Acceptance[0].Words(), "acceptable quality level of 2.5 %")
	for rule, want := range map[string]string{
		"average":                                                                         `there is no acceptance rule "average"; write "every"`,
		"{plan: at most, bad: 1, source: s}":                                              `the plan "at most" needs the key "in"; add it`,
		"{plan: at most, bad: 3, in: 3, source: s}":                                       "allows nothing or everything",
		"{plan: every point, percent: 90 %, source: s}":                                   `the plan "every point" does not use this key`,
		"{plan: share within, percent: 0 %, source: s}":                                   "cannot be asked for",
		"{plan: share within, percent: 90, source: s}":                                    `"90" is no percentage`,
		"{plan: mean and deviation, source: s}":                                           "needs its factor",
		"{plan: mean and deviation, k: 0, source: s}":                                     "needs a factor k above 0",
		"{plan: mean and deviation, k: 1, quality: 1 %, source: s}":                       `keep "k:" or "quality:"`,
		"{plan: mean and deviation, quality: 3 %, source: s}":                             "has no acceptable quality level of 3 %",
		"{plan: mean and deviation, quality: 1 %, values: 5, source: s}":                  `leave "values:" out`,
		"{plan: every point}":                                                             `the key "source" is missing`,
		"{plan: every, source: s}":                                                        `"every" is not known here`,
		"{checks: [Pat], plan: every point, source: s}":                                   `no check is named "Pat"; the checks of this job are "Pad"; did you mean "Pad"?`,
		"[{plan: every point, source: s}, {checks: [Pad], plan: every point, source: s}]": `the check "Pad" has a rule of acceptance in line`,
		"[{plan: every point, source: s}, {quantity: gap, plan: every point, source: s}]": "name the quantity there as well",
		"[{quantity: gap, plan: every point, source: s}, {plan: every point, source: s}]": "name the quantity here as well",
		"{quantity: backfall, plan: every point, source: s}":                              `"backfall" is not known here`,
	} {
		_, msg := loadTolerance(t, good, "m", "acceptance: "+rule+"\n")
		assert.Contains(t, msg, want, rule)
	}
	_, msg = loadText(t, withTolerance(good+", decision: {rule: guarded acceptance, factor: 2, source: s}", "m", "acceptance: {plan: mean and deviation, k: 2, source: s}\n"))
	assert.Contains(t, msg, "judge by one of the two")
}

// loadText loads a text and gives what is wrong with it.
func loadText(t *testing.T, text string) (*Job, string) {
	j, err := Load("job.yaml", []byte(text), zonedKinds)
	if err != nil {
		return nil, err.Error()
	}
	return j, ""
}

// Plan errors are worth no less than none.
func TestPlanUncertaintyIsPositive(t *testing.T) {
	_, msg := loadTolerance(t, "{upper: 3 mm, source: s}", "m", "planUncertainty: 0 mm\n")
	assert.Contains(t, msg, "planUncertainty: a standard uncertainty is more than nought")
	_, msg = loadText(t, strings.Replace(withTolerance("{upper: 3 mm, source: s}", "m", ""), "kind: points", "kind: points, planUncertainty: -1 mm", 1))
	assert.Contains(t, msg, "surveys.planUncertainty: a standard uncertainty is more than nought")
}
