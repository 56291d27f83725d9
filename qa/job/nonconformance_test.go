package job

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const patches = "units: m\nnonconformance: {spacing: 10 m, source: s}"

func TestNonconformanceFaults(t *testing.T) {
	const kind, units = "kind: levels", "units: m"
	for _, c := range []struct {
		name, old, with string
		want            []string
	}{
		{"no spacing", units, "units: m\nnonconformance: {spacing: ▸0 m, source: s}",
			[]string{"nonconformance.spacing: a spacing is more than nought and at most 1 km; write how far the shots of one patch may be apart, such as 10 m"}},
		{"more than a kilometre", units, "units: m\nnonconformance: {spacing: ▸1000.001 m, source: s}",
			[]string{"nonconformance.spacing: a spacing is more than nought and at most 1 km; write how far the shots of one patch may be apart, such as 10 m"}},
		{"a prefix that runs on", units, "units: m\nnonconformance: {spacing: 10 m, source: s, prefix: ▸NC-1}",
			[]string{`nonconformance.prefix: "NC-1" runs into the number that follows it, or has a comma, semicolon or quote in it; end it with a letter or a dash, such as "NC-"`}},
		{"a register without patches", units, "units: m\nregister: ▸register.csv",
			[]string{`register: a register is carried on by patches, and nothing says how far their shots may be apart; add "nonconformance:" with its spacing`}},
		{"a register of another kind", units, patches + "\nregister: ▸register.xlsx",
			[]string{`register: "register.xlsx" is no CSV file; give the register.csv that the run before wrote, or save the workbook as CSV`}},
		{"rework without a way", units, "units: m\n▸▸rework: {source: s}",
			[]string{`rework: nothing says which older shot a newer one takes the place of; add "within:" (such as 0.5 m) or "byName: true"`,
				`rework: a newer shot is told from an older one by date, and no survey has one; add "date:" to the surveys`}},
		{"rework without a date", units, "units: m\n▸rework: {byName: true, source: s}",
			[]string{`rework: a newer shot is told from an older one by date, and no survey has one; add "date:" to the surveys`}},
		{"no day", kind, kind + "\n    date: ▸5/3/2026",
			[]string{`surveys.date: "5/3/2026" is no day as it is written here; write year, month and day as 2026-03-05`}},
		{"no such day", kind, kind + "\n    date: ▸2026-02-30",
			[]string{`surveys.date: "2026-02-30" is no day as it is written here; write year, month and day as 2026-03-05`}},
		{"days out of order", kind, kind + "\n    date: 2026-03-05\n  - {file: again.csv, kind: points, date: ▸2026-03-04}",
			[]string{`surveys.date: "again.csv" is older than "levels.csv", which stands before it; list dated surveys in the order of their days, so that the old shot is shown before the new one`}},
		{"rounds out of order", kind, kind + "\n    date: 2026-03-05\n    round: 2\n  - {file: again.csv, kind: points, date: 2026-03-06, round: ▸1}",
			[]string{"surveys.round: round 1 stands after round 2 of an earlier or the same day; correct the round or the date"}},
		{"a later round without a day", kind, kind + "\n    round: ▸2",
			[]string{`surveys.round: a later round needs its day, because a newer shot is told from an older one by date; add "date:"`}},
		{"a concession of nothing", units, "units: m\nconcessions:\n  - ▸by: A\n    date: 2026-03-09\n    reason: r",
			[]string{`concessions: nothing says what is conceded; add "number:" with a number of the register, or "point:" and "check:"`}},
		{"a concession of two things", units, patches + "\nconcessions:\n  - {number: ▸NC-001, point: a, check: Pad, by: A, date: 2026-03-09, reason: r}",
			[]string{"concessions.number: a concession is for a number of the register or for a point of a check; make two entries of it"}},
		{"a concession without a register", units, "units: m\nconcessions:\n  - {number: ▸NC-001, by: A, date: 2026-03-09, reason: r}",
			[]string{`concessions.number: there is no register without patches; add "nonconformance:", or name "point:" and "check:"`}},
		{"a concession of no check", units, "units: m\nconcessions:\n  - {point: a, check: ▸pda, by: A, date: 2026-03-09, reason: r}",
			[]string{`concessions.check: no check of this job is named "pda"`}},
		{"a concession twice", units, "units: m\nconcessions:\n  - {point: a, check: Pad, by: A, date: 2026-03-09, reason: r}\n  - ▸{point: a, check: Pad, by: B, date: 2026-03-10, reason: q}",
			[]string{"concessions: the same is conceded in line 4 already; make one entry of the two"}},
	} {
		t.Run(c.name, func(t *testing.T) { expect(t, strings.Replace(small, c.old, c.with, 1), c.want...) })
	}
}

// The day of a survey is its own, else that of the job where it names one day.
func TestDayOf(t *testing.T) {
	j, err := Load("job.yaml", []byte(strings.Replace(small, "kind: levels", "kind: levels\n  - {file: b.csv, kind: points, date: 2026-03-05}", 1)+"surveyDate: 2026-03-04\n"), testKinds)
	require.NoError(t, err)
	assert.Equal(t, Date("2026-03-04"), j.DayOf(0))
	assert.Equal(t, Date("2026-03-05"), j.DayOf(1))
	assert.Equal(t, Date("2026-03-04"), j.DayOf(-1))
	j.SurveyDate = "3 to 5 March"
	assert.Empty(t, j.DayOf(0))
}

func TestConcessionWords(t *testing.T) {
	c := Concession{By: "A. Patel", Date: "2026-03-09", Reason: "thin topping"}
	assert.Equal(t, "conceded by A. Patel on 2026-03-09: thin topping", c.Words())
	c.Clause = "EI 7"
	assert.Equal(t, "conceded by A. Patel on 2026-03-09: thin topping (EI 7)", c.Words())
}
