package main

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"sightrail/qa/limits"
)

// Every preset is listed with its limits and its source, words narrow the list,
// and the contract stands last. The figures are those of the table of presets,
// which has its sources and its own test.
func TestPresets(t *testing.T) {
	code, out, msg := sightrail("presets")
	assert.Equal(t, exitOK, code)
	assert.Empty(t, msg)
	for _, p := range limits.Presets() {
		assert.Contains(t, out, p.Name+": "+p.Element+" ("+p.Kind+"): ")
	}
	assert.Contains(t, strings.Join(strings.Fields(out), " "), limits.ContractRules)
	code, out, _ = sightrail("presets", "lip", "level")
	assert.Equal(t, exitOK, code)
	assert.Contains(t, out, "tnz-b02-basecourse-lip: basecourse at or near the lip of channel (level): -5 mm to 5 mm\n")
	assert.Contains(t, strings.Join(strings.Fields(out), " "), "New Zealand, TNZ B/02:2005, 5.1(b), note 1 (copy of the text)")
	assert.NotContains(t, out, "kentucky")
	code, _, msg = sightrail("presets", "lip", "sewer")
	assert.Equal(t, exitUndone, code)
	assert.Contains(t, msg, "no preset has lip and sewer in its name")
}
