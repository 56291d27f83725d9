package limits

import (
	_ "embed"
	"encoding/csv"
	"fmt"
	"strings"
	"sync"

	"sightrail/formats/unit"
)

// ContractRules stands beside every limit that comes from a preset.
const ContractRules = "The contract rules. A preset quotes a published document, often through another one; compare it with the contract before it is used."

// Preset is a tolerance as a document has it, and how that was seen.
type Preset struct {
	Name    string // as a job names it
	Element string // what is judged
	Kind    string // level, thickness, straightedge, step, plan, width, invert, line, line per length
	Basis   string // what the limits are of
	Bar     string // length of the straightedge that a gap is under: "3 m", "4 m or 12 ft"; "" for all others
	Lower   string // as the document has it: "-30 mm", "0.1 ft", "lesser of 20 mm and 5 % of DN"; "" for none
	Upper   string
	Source  string // document
	Clause  string
	Seen    string // how the figures were seen
	Remark  string
}

//go:embed presets.csv
var presetsCSV string

var readPresets = sync.OnceValue(func() []Preset {
	rows, err := csv.NewReader(strings.NewReader(presetsCSV)).ReadAll()
	if err != nil {
		panic(err) // the table is part of the program; its test reads every row
	}
	list := make([]Preset, len(rows)-1)
	for i, r := range rows[1:] {
		list[i] = Preset{r[0], r[1], r[2], r[3], r[4], r[5], r[6], r[7], r[8], r[9], r[10]}
	}
	return list
})

// Presets lists the presets in the order of the table. Every one was seen in the
// document itself or quoted by another; none is from memory.
func Presets() []Preset { return append([]Preset(nil), readPresets()...) }

// PresetByName finds a preset.
func PresetByName(name string) (Preset, error) {
	for _, p := range readPresets() {
		if p.Name == name {
			return p, nil
		}
	}
	return Preset{}, fmt.Errorf("there is no preset named %q; the list of presets has their names", name)
}

// Tolerance is the tolerance of the preset. foot is the foot that levels are in,
// unit.Ft or unit.FtUS: a limit of 0.1 ft is 0.1 of that foot, so that a level
// exactly on it passes. Any other unit will do for a preset that is not in feet.
func (p Preset) Tolerance(foot unit.Unit) (SizeTolerance, error) {
	t := SizeTolerance{Source: p.Cite()}
	var err error
	if p.Lower != "" {
		t.HasLower = true
		if t.Lower, err = presetLimit(p.Lower, foot); err != nil {
			return SizeTolerance{}, fmt.Errorf("preset %s: %w", p.Name, err)
		}
	}
	if p.Upper != "" {
		t.HasUpper = true
		if t.Upper, err = presetLimit(p.Upper, foot); err != nil {
			return SizeTolerance{}, fmt.Errorf("preset %s: %w", p.Name, err)
		}
	}
	return t, nil
}

func presetLimit(text string, foot unit.Unit) (Size, error) {
	if number, ok := strings.CutSuffix(text, " ft"); ok {
		if foot != unit.Ft && foot != unit.FtUS {
			return Size{}, fmt.Errorf("the limit %q is in feet; say which foot, ft or ftUS", text)
		}
		text = number + " " + foot.Name
	}
	return ParseSize(text)
}

// Bars are the lengths of straightedge that the limits of the preset are for, as the
// document gives them; a foot is either foot. None where it is no straightedge.
func (p Preset) Bars() (out []unit.Length) {
	if p.Bar == "" {
		return nil
	}
	for text := range strings.SplitSeq(p.Bar, " or ") {
		names := []string{text}
		if number, ok := strings.CutSuffix(text, " ft"); ok {
			names = []string{text, number + " " + unit.FtUS.Name}
		}
		for _, n := range names {
			l, err := unit.ParseQuantity(n)
			if err != nil {
				panic(err) // the table is part of the program; its test reads every row
			}
			out = append(out, l)
		}
	}
	return out
}

// Cite names the document, the place in it and how it was seen.
func (p Preset) Cite() string {
	s := p.Source + ", " + p.Clause + " (" + p.Seen
	if p.Remark != "" {
		s += "; " + p.Remark
	}
	return s + ")"
}

// InFeet tells whether a limit of the preset is in feet, of which there are two.
func (p Preset) InFeet() bool {
	return strings.HasSuffix(p.Lower, " ft") || strings.HasSuffix(p.Upper, " ft")
}
