package report

import (
	"strconv"
	"strings"

	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/job"
)

// hasU reports whether a row that the page shows has an uncertainty.
func hasU(res *qa.Result) bool {
	for i := range res.Rows {
		if res.Rows[i].HasU {
			return true
		}
	}
	return false
}

// tenthU prints the standard uncertainty of a row in millimetres.
func tenthU(r *qa.Row) string {
	if !r.HasU {
		return ""
	}
	return strconv.FormatFloat(r.U, 'f', 1, 64)
}

// worthWords writes the rule of uncertainties out, with its figures and where
// they come from.
func worthWords(j *job.Job) []fact {
	var out []fact
	mm := func(l *job.Length) string { return l.Exact(unit.MM, 0) + " mm" }
	if w := j.Levelling.Worth; w != nil {
		var s strings.Builder
		s.WriteString("u is one standard deviation; doubled (k = 2) it covers about 95 %. A level is its mark, plus what every set-up on the way adds, plus its own reading. ")
		if w.PerKm != nil {
			s.WriteString("Every sight of d km adds √2 × " + mm(w.PerKm) + " × √d, from the standard deviation of a kilometre levelled forward and back; a sight without a distance counts as the longest of its set-up. ")
			if w.Setup != nil {
				s.WriteString("A set-up adds " + mm(w.Setup) + ". ")
			}
		} else {
			setup := w.Setup
			if setup == nil {
				setup = w.Reading
			}
			s.WriteString("A set-up adds " + mm(setup) + " to its collimation, its backsight included; a reading adds " + mm(w.Reading) + ". ")
		}
		s.WriteString("What two levels have in common, marks and set-ups, drops out of their difference: so for grades and backfall. ")
		s.WriteString(markWords(j))
		if j.Levelling.Network != nil {
			s.WriteString(" A junction of the level network counts with the deviation that the network gives it, as if its runs had no part in that: u is then rather too large than too small.")
		}
		s.WriteString(" The design counts as exact. Figures from: " + w.Source + ".")
		out = append(out, fact{"Uncertainty u", s.String()})
	}
	for i := range j.Surveys {
		w := j.Surveys[i].Worth
		if w == nil {
			continue
		}
		s := "A point of " + j.Surveys[i].File + " is worth " + mm(&w.Point) + " by itself"
		if w.Shared != nil {
			s += " and " + mm(w.Shared) + " in common with the others of the file"
		}
		out = append(out, fact{"Uncertainty u", s + ". Figures from: " + w.Source + "."})
	}
	if len(out) == 0 {
		out = append(out, fact{"Uncertainty", "Not supplied: the job does not say what a reading, a set-up or a point is worth, so the levels carry no uncertainty."})
	}
	return out
}

// markWords says whether the marks are in the uncertainties.
func markWords(j *job.Job) string {
	var in, exact []string
	for i := range j.BenchMarks {
		m := &j.BenchMarks[i]
		if m.Worth != nil && m.Worth.Length > 0 {
			in = append(in, m.Name+" "+m.Worth.Exact(unit.MM, 0)+" mm")
		} else {
			exact = append(exact, m.Name)
		}
	}
	switch {
	case len(in) == 0:
		return "The marks are not included: they count as exact."
	case len(exact) == 0:
		return "The marks are included: " + strings.Join(in, ", ") + "."
	}
	return "Of the marks these are included: " + strings.Join(in, ", ") + "; these count as exact: " + strings.Join(exact, ", ") + "."
}
