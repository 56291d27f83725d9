package main

import (
	"fmt"
	"strings"

	"sightrail/qa/limits"
)

type presetsCmd struct {
	Words []string `arg:"" optional:"" help:"Print only presets with all of these words in them: a name, an element, a kind, a document."`
}

// run prints the presets, each with its limits, its source and how that was seen.
func (k presetsCmd) run(c *console) int {
	n := 0
	for _, p := range limits.Presets() {
		if !hasWords(p, k.Words) {
			continue
		}
		n++
		fmt.Fprintf(c.out, "%s: %s (%s): %s\n", p.Name, p.Element, p.Kind, presetLimits(p))
		paragraph(c.out, "", p.Basis+". "+p.Cite()+".")
	}
	if n == 0 {
		return c.fail(fmt.Errorf("no preset has %s in its name, element, kind or source; \"sightrail presets\" lists all", strings.Join(k.Words, " and ")))
	}
	fmt.Fprintln(c.out)
	paragraph(c.out, "", limits.ContractRules+" In a job: \"tolerance: {preset: NAME}\".")
	return exitOK
}

func hasWords(p limits.Preset, words []string) bool {
	text := strings.ToLower(strings.Join([]string{p.Name, p.Element, p.Kind, p.Basis, p.Source, p.Clause, p.Remark}, " "))
	for _, w := range words {
		if !strings.Contains(text, strings.ToLower(w)) {
			return false
		}
	}
	return true
}

// presetLimits writes the limits as the document has them.
func presetLimits(p limits.Preset) string {
	switch {
	case p.Lower != "" && p.Upper != "":
		return p.Lower + " to " + p.Upper
	case p.Upper != "":
		return "not above " + p.Upper
	}
	return "not below " + p.Lower
}
