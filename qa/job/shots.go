package job

import (
	"slices"
	"strings"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// Matches reports whether the texts of a shot fit the selection: its name,
// code, layer and run, and the file of its survey. Every list that is given
// must hold one that fits; letters count as written. Polygon and Chainage are
// not looked at.
func (s Shots) Matches(id, code, layer, run, survey string) bool {
	return fits(s.Names, id) && fits(s.Codes, code) && fits(s.Layers, layer) && fits(s.Runs, run) && fits(s.Surveys, survey)
}

func fits(patterns []string, text string) bool {
	return len(patterns) == 0 || slices.ContainsFunc(patterns, func(p string) bool {
		if start, ok := strings.CutSuffix(p, "*"); ok {
			return strings.HasPrefix(text, start)
		}
		return p == text
	})
}

var delimiters = map[string]rune{"comma": ',', "semicolon": ';', "tab": '\t', "pipe": '|', "space": ' '}

var decimals = map[string]rune{"point": '.', "comma": ','}

// Declared is the unit that is declared for the file; unknown when there is none.
func (r Reading) Declared() unit.Unit {
	if r.Unit == nil {
		return unit.Unit{}
	}
	return r.Unit.Unit.Unit
}

// Options are what a decoder is told of a file with that content.
func (r Reading) Options(content formats.Content) formats.Options {
	o := formats.Options{
		Content: content, Sheet: r.Sheet, Columns: r.Columns, Encoding: r.Encoding, Accept: r.Accept,
		Delimiter: delimiters[r.Delimiter], Decimal: decimals[r.Decimal],
	}
	if r.Unit != nil {
		o.Unit, o.FeetInches = r.Unit.Unit.Unit, r.Unit.FeetInches
	}
	return o
}
