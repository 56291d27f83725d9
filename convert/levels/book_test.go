package levels_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sightrail/convert/levels"
	"sightrail/formats/unit"
)

// m reads metres.
func m(t require.TestingT, s string) unit.Length {
	l, exact, err := unit.Parse(s, unit.M)
	require.NoError(t, err)
	require.True(t, exact, s)
	return l
}

// book reads a book in metres, a row a line: point, BS, IS, FS, known, with "-"
// for a blank cell, then what else there is: db, di, df (sights), rise, fall,
// hpc, rl (booked), from (who gives the known level).
func book(t require.TestingT, text string) []levels.Row {
	var rows []levels.Row
	for _, line := range strings.Split(strings.TrimSpace(text), "\n") {
		f := strings.Fields(line)
		require.GreaterOrEqual(t, len(f), 5, line)
		value := func(s string) levels.Value {
			if s == "-" {
				return levels.Value{}
			}
			return levels.Of(m(t, s))
		}
		r := levels.Row{BS: value(f[1]), IS: value(f[2]), FS: value(f[3]), Known: value(f[4])}
		if f[0] != "-" {
			r.Name = f[0]
		}
		if r.Known.Set {
			r.KnownFrom = "column KNOWN"
		}
		for _, more := range f[5:] {
			key, v, ok := strings.Cut(more, "=")
			require.True(t, ok, more)
			if r.Booked == nil {
				r.Booked = &levels.Booked{}
			}
			switch key {
			case "db":
				r.DistBS = value(v)
			case "di":
				r.DistIS = value(v)
			case "df":
				r.DistFS = value(v)
			case "rise":
				r.Booked.Rise = value(v)
			case "fall":
				r.Booked.Fall = value(v)
			case "hpc":
				r.Booked.Collimation = value(v)
			case "rl":
				r.Booked.Level = value(v)
			case "from":
				r.KnownFrom = strings.ReplaceAll(v, "_", " ")
			default:
				t.Errorf("%s is not a key", key)
			}
		}
		rows = append(rows, r)
	}
	return rows
}

func rule(t require.TestingT, text string) levels.Rule {
	r, err := levels.ParseRule(text)
	require.NoError(t, err)
	return r
}

// levelsOf prints the raw levels, "-" where there is none.
func levelsOf(res *levels.Result) string {
	return column(res, func(r *levels.Reduced) levels.Value { return r.Level })
}

func adjustedOf(res *levels.Result) string {
	return column(res, func(r *levels.Reduced) levels.Value { return r.Adjusted })
}

func column(res *levels.Result, of func(*levels.Reduced) levels.Value) string {
	var out []string
	for i := range res.Rows {
		s := "-"
		if v := of(&res.Rows[i]); v.Set {
			s = v.L.Exact(unit.M, 3)
		}
		out = append(out, s)
	}
	return strings.Join(out, " ")
}

// states prints the runs: from, to, state.
func states(res *levels.Result) string {
	var out []string
	for _, r := range res.Runs {
		to := r.To
		if to == "" {
			to = "?"
		}
		s := r.From + ">" + to + " " + [...]string{"open", "closed", "loop", "out", "not judged", "broken"}[r.State]
		out = append(out, s)
	}
	return strings.Join(out, ", ")
}

func mistakes(res *levels.Result) []string {
	var out []string
	for _, x := range res.Mistakes {
		out = append(out, string(rune('0'+x.Index))+" "+x.Field+": "+x.Text)
	}
	return out
}

func reduce(t testing.TB, text string, opt levels.Options) *levels.Result {
	return levels.Reduce(book(t, text), opt)
}
