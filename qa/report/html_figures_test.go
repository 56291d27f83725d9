package report

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"sightrail/convert/levels"
	"sightrail/formats/unit"
	"sightrail/qa/job"
)

func TestPercentNeverRoundsToAllOrNothing(t *testing.T) {
	for f, want := range map[float64]string{100: "100.0", 99.99: "99.9", 99.94: "99.9", 0: "0.0", 0.01: "0.1", 84.6153: "84.6"} {
		assert.Equal(t, want, percent(f))
	}
}

func TestTenth(t *testing.T) {
	for f, want := range map[float64]string{-0.04: "0.0", 0.04: "0.0", 2.46: "+2.5", -2.46: "-2.5", 0: "0.0"} {
		assert.Equal(t, want, tenth(f))
	}
}

// A misclosure that is past its limit by less than a tenth of a millimetre must
// not be printed as the limit.
func TestRunFigures(t *testing.T) {
	um := unit.Micrometre
	for _, x := range []struct {
		misclosure, allowed unit.Length
		state               levels.State
		m, a                string
	}{
		{11_430 * um, 11_380 * um, levels.OutOfLimit, "+11.43", "11.38"},
		{11_300 * um, 11_380 * um, levels.Closed, "+11.3", "11.4"},
		{-11_380 * um, 11_380 * um, levels.Closed, "-11.4", "11.4"},
		{-88_000 * um, 6_000 * um, levels.OutOfLimit, "-88.0", "6.0"},
		{11_381 * um, 11_380 * um, levels.OutOfLimit, "+11.381", "11.380"},
		{0, 11_380 * um, levels.Closed, "0.0", "11.4"},
	} {
		m, a := runFigures(levels.Rule{Coef: x.allowed, Text: "a fixed limit"}, &levels.Run{Misclosure: levels.Of(x.misclosure), Allowed: levels.Of(x.allowed), State: x.state})
		assert.Equal(t, []string{x.m, x.a}, []string{m, a})
	}
	m, a := runFigures(levels.Rule{}, &levels.Run{Misclosure: levels.Of(um)})
	assert.Equal(t, []string{"0.0", ""}, []string{m, a})
	m, a = runFigures(levels.Rule{}, &levels.Run{})
	assert.Equal(t, []string{"", ""}, []string{m, a})
}

func TestNearLimit(t *testing.T) {
	um := unit.Micrometre
	assert.Equal(t, "10.04", nearLimit(10_040*um, mm(10)))
	assert.Equal(t, "-10.04", nearLimit(-10_040*um, mm(10)))
	assert.Equal(t, "10.0", nearLimit(mm(10), mm(10)))
	assert.Equal(t, "3.0", nearLimit(mm(3), 0))
}

func TestSelection(t *testing.T) {
	assert.Equal(t, "every shot of the job", selection(&job.Shots{}))
	s := job.Shots{Names: []string{"P*"}, Codes: []string{"FG", "F2"}, Polygon: &job.Outline{File: "lot.geojson", Name: "Lot 7"}, Chainage: &job.Chainage{To: job.Length{Length: mm(1500)}}}
	assert.Equal(t, "names P*; codes FG, F2; inside the outline Lot 7 of lot.geojson; chainage 0.000 to 1.500 m", selection(&s))
	assert.Equal(t, "inside an outline of the job", selection(&job.Shots{Polygon: &job.Outline{}}))
}

func TestPlusSign(t *testing.T) {
	for in, want := range map[string]string{"3": "+3", "-3": "-3", "0": "0", "0.0": "0.0", "": ""} {
		assert.Equal(t, want, plusSign(in))
	}
}
