package limits

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats/fixture"
	"sightrail/formats/unit"
)

// example is one file of testdata/worked/quality. Numbers stay text.
type example struct {
	Kind   string
	Source struct{ Work, Place, Seen, How string }
	Units  string
	Inputs map[string]any
	Want   map[string]any
	Within map[string]any
	Status string
	Remark string
}

func qualityFolder(t testing.TB) string {
	return filepath.Join(fixture.Root(t), "testdata", "worked", "quality")
}

func readExample(t testing.TB, name string) example {
	t.Helper()
	f, err := os.Open(filepath.Join(qualityFolder(t), name))
	require.NoError(t, err)
	defer f.Close()
	d := json.NewDecoder(f)
	d.UseNumber()
	d.DisallowUnknownFields()
	var e example
	require.NoError(t, d.Decode(&e), name)
	require.NotEmpty(t, e.Source.Work, name)
	require.NotEmpty(t, e.Source.How, name)
	return e
}

func readTable(t testing.TB, path string) (rows []map[string]string) {
	t.Helper()
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err, path)
	for _, r := range all[1:] {
		row := map[string]string{}
		for i, h := range all[0] {
			row[h] = r[i]
		}
		rows = append(rows, row)
	}
	return rows
}

func number(t testing.TB, v any) float64 {
	t.Helper()
	switch v := v.(type) {
	case json.Number:
		f, err := v.Float64()
		require.NoError(t, err)
		return f
	case string:
		f, err := strconv.ParseFloat(v, 64)
		require.NoError(t, err)
		return f
	}
	t.Fatalf("%v is no number", v)
	return 0
}

func numbers(t testing.TB, v any) (out []float64) {
	t.Helper()
	list, ok := v.([]any)
	require.True(t, ok, "%v is no list", v)
	for _, x := range list {
		out = append(out, number(t, x))
	}
	return out
}

func (e example) in(t testing.TB, key string) float64   { t.Helper(); return number(t, e.Inputs[key]) }
func (e example) want(t testing.TB, key string) float64 { t.Helper(); return number(t, e.Want[key]) }

// is compares a result with the printed one.
func (e example) is(t *testing.T, key string, got float64) {
	t.Helper()
	assert.InDelta(t, e.want(t, key), got, number(t, e.Within[key]), key)
}

// mm takes a number of the example as millimetres, whatever its unit is: a
// decision rule has no unit.
func mm(t testing.TB, v any) unit.Length {
	t.Helper()
	n, ok := v.(json.Number)
	require.True(t, ok, "%v is no number", v)
	return length(t, n.String()+" mm")
}

func (e example) tolerance(t testing.TB, lower, upper string) (tol Tolerance) {
	t.Helper()
	if v := e.Inputs[lower]; v != nil {
		tol.Lower, tol.HasLower = mm(t, v), true
	}
	if v := e.Inputs[upper]; v != nil {
		tol.Upper, tol.HasUpper = mm(t, v), true
	}
	return tol
}

// judged are the kinds of example that this package works out.
var judged = map[string]func(*testing.T, example){
	"conformance_probability": func(t *testing.T, e example) {
		tol := e.tolerance(t, "lower", "upper")
		y, u := mm(t, e.Inputs["y"]), e.in(t, "u")
		e.is(t, "p_conform", Conformance(tol, y, u))
		if tol.HasUpper {
			e.is(t, "z_upper", (tol.Upper-y).Millimetres()/u)
		} else {
			e.is(t, "z_lower", (y-tol.Lower).Millimetres()/u)
		}
		o := Rule{}.Judge(tol, y, u, true)
		assert.Equal(t, Pass, o.Verdict)
		e.is(t, "p_conform", o.Conform)
	},
	"normal_quantiles": func(t *testing.T, e example) {
		z := numbers(t, e.Want["z"])
		for i, p := range numbers(t, e.Inputs["p"]) {
			assert.InDelta(t, z[i], GuardFactor(p), e.within(t, "z"), p)
		}
	},
	"guard_band_max_risk": func(t *testing.T, e example) {
		e.is(t, "max_false_accept", GuardedRisk(e.in(t, "w_over_u")))
		// the same from the rule: a value on its acceptance limit
		r := Rule{Decision: GuardedAcceptance, Factor: UsualFactor}
		o := r.Judge(within(t, "", "10 mm"), length(t, "8 mm"), 1, true)
		assert.Equal(t, Pass, o.Verdict)
		e.is(t, "max_false_accept", 1-o.Conform)
	},
	"relative_guard_band": func(t *testing.T, e example) {
		limit := e.in(t, "limit")
		tol := Tolerance{Upper: mm(t, e.Inputs["limit"]), HasUpper: true}
		factor, err := Factor(GuardFactor(e.in(t, "p")))
		require.NoError(t, err)
		r := Rule{Decision: GuardedRejection, Factor: factor}
		last := 0.0 // largest value that is not rejected, in hundredths
		for y := limit; y < limit*1.2; y += 0.01 {
			l, err := unit.FromMetres(y / 1000)
			require.NoError(t, err)
			if r.Judge(tol, l, e.in(t, "rel_u")*y, true).Verdict == Pass {
				last = y
			}
		}
		e.is(t, "acceptance_limit", last)
		e.is(t, "guard_band", last-limit)
	},
	"capability_index": func(t *testing.T, e example) {
		most := mm(t, e.Inputs["e_max"])
		tol := Tolerance{Lower: -most, Upper: most, HasLower: true, HasUpper: true}
		e.is(t, "Cm", Capability(tol, e.in(t, "U_k2")/2))
		width := 2 * most.Millimetres()
		e.is(t, "u_over_T_at_Cm4", root(func(u float64) float64 { return 4 - Capability(tol, u) }, 1e-9, 1)/width)
	},
	"capability_band": func(t *testing.T, e example) {
		tol := within(t, "0 mm", "1000 mm")
		u := 1000 / (4 * e.in(t, "Cm"))
		require.InDelta(t, e.in(t, "Cm"), Capability(tol, u), 1e-12)
		low, high := -1, -1
		for y := range 1001 {
			if Conformance(tol, unit.Length(y)*unit.Millimetre, u) >= e.in(t, "p") {
				if low < 0 {
					low = y
				}
				high = y
			}
		}
		e.is(t, "y_tilde_low", float64(low)/1000)
		e.is(t, "y_tilde_high", float64(high)/1000)
	},
	"global_risk_normal": func(t *testing.T, e example) {
		tol, accept := e.tolerance(t, "T_low", "T_up"), e.tolerance(t, "A_low", "A_up")
		consumer, producer := Risks(tol, accept, e.in(t, "y0"), e.in(t, "u0"), e.in(t, "um"))
		e.is(t, "R_C", consumer)
		e.is(t, "R_P", producer)
		conform := Conformance(tol, mm(t, e.Inputs["y0"]), e.in(t, "u0"))
		e.is(t, "p_conform_process", conform)
		of100, ok := e.Want["of_100"].(map[string]any)
		require.True(t, ok)
		round := func(p float64) float64 { return math.Round(100 * p) }
		assert.Equal(t, number(t, of100["conform"]), round(conform))
		assert.Equal(t, number(t, of100["false_accept"]), round(consumer))
		assert.Equal(t, number(t, of100["false_reject"]), round(producer))
		// its other counts are sums of the rounded ones
		accepted := round(conform) - round(producer) + round(consumer)
		assert.Equal(t, number(t, of100["accepted"]), accepted)
		assert.Equal(t, number(t, of100["rejected"]), 100-accepted)
		// Unrounded, the share accepted is that of a normal value with both
		// variances.
		both := Conformance(accept, mm(t, e.Inputs["y0"]), math.Hypot(e.in(t, "u0"), e.in(t, "um")))
		assert.InDelta(t, both, conform-producer+consumer, 1e-12)
		assert.InDelta(t, 0.845, both, 0.0005, "as the remark has it")
	},
	"risk_vs_capability": func(t *testing.T, e example) {
		tol := within(t, "0 mm", "1000 mm")
		c, p := numbers(t, e.Want["R_C"]), numbers(t, e.Want["R_P"])
		for i, cm := range numbers(t, e.Inputs["Cm"]) {
			consumer, producer := Risks(tol, tol, 500, 1000*e.in(t, "u0_over_T"), 1000/(4*cm))
			assert.InDelta(t, c[i], consumer, e.within(t, "R_C"), cm)
			assert.InDelta(t, p[i], producer, e.within(t, "R_P"), cm)
		}
	},
	"tolerance_factor_two_sided": func(t *testing.T, e example) {
		n := int(e.in(t, "n"))
		k, err := HoweFactor(n, e.in(t, "coverage"), e.in(t, "confidence"))
		require.NoError(t, err)
		e.is(t, "k2", k)
		e.is(t, "chi2", chiSquaredQuantile(1-e.in(t, "confidence"), float64(n-1)))
		e.is(t, "lower", e.in(t, "mean")-k*e.in(t, "s"))
		e.is(t, "upper", e.in(t, "mean")+k*e.in(t, "s"))
		exact, err := TwoSidedFactor(n, e.in(t, "coverage"), e.in(t, "confidence"))
		require.NoError(t, err)
		assert.InDelta(t, 2.2228, exact, 0.00005, "as the remark has it")
	},
	"tolerance_factor_one_sided": func(t *testing.T, e example) {
		n := int(e.in(t, "n"))
		k, err := NatrellaFactor(n, e.in(t, "coverage"), e.in(t, "confidence"))
		require.NoError(t, err)
		e.is(t, "k1_natrella", k)
		e.is(t, "lower", e.in(t, "mean")-k*e.in(t, "s"))
		exact, err := OneSidedFactor(n, e.in(t, "coverage"), e.in(t, "confidence"))
		require.NoError(t, err)
		e.is(t, "k1_exact", exact)
	},
	"oiml_r138":  oimlLots,
	"pwl_single": pwlSingle,
	"pwl_table":  pwlTable,
	"strd":       certified,
	"level_tolerance": func(t *testing.T, e example) { // edmonton
		devs := numbers(t, e.Want["dev_mm"])
		results := e.Want["result"].([]any)
		for i, c := range e.Inputs["cases"].([]any) {
			c := c.(map[string]any)
			tol := Tolerance{Lower: mm(t, c["lower_mm"]), Upper: mm(t, c["upper_mm"]), HasLower: true, HasUpper: true}
			d := metres(t, c["asbuilt"].(json.Number).String()) - metres(t, c["design"].(json.Number).String())
			assert.InDelta(t, devs[i], d.Millimetres(), e.within(t, "dev_mm"))
			assert.Equal(t, unit.Length(devs[i])*unit.Millimetre, d, "exactly")
			assert.Equal(t, results[i], Rule{}.Judge(tol, d, 0, false).Words())
		}
	},
	"gradient": func(t *testing.T, e example) {
		cases := e.Inputs["cases"].([]any)
		first, second := cases[0].(map[string]any), cases[1].(map[string]any)
		fall, along := metres(t, first["fall"].(json.Number).String()), metres(t, first["length"].(json.Number).String())
		oneIn := e.Want["one_in"].([]any)[0].(json.Number).String()
		least, err := unit.ParseGrade("1 in " + oneIn)
		require.NoError(t, err)
		assert.Equal(t, Pass, LeastGrade(fall, along, least))
		assert.Equal(t, Fail, LeastGrade(fall-1, along, least))
		assert.Equal(t, "1 in "+oneIn, PrintedGrade(fall, along, least))
		assert.InDelta(t, number(t, e.Want["gradient"].([]any)[0]), unit.Grade{Rise: fall, Run: along}.Ratio(), e.within(t, "gradient"))
		other, err := unit.ParseGrade("1 in " + second["one_in"].(json.Number).String())
		require.NoError(t, err)
		over := other.Over(metres(t, second["length"].(json.Number).String()))
		assert.Equal(t, metres(t, e.Want["fall"].([]any)[1].(json.Number).String()), over)
	},
}

func (e example) within(t testing.TB, key string) float64 {
	t.Helper()
	return number(t, e.Within[key])
}

// elsewhere are the kinds of example that are no question of limits: curves,
// volumes, capacity. They stand here for the packages that work those out.
var elsewhere = []string{
	"clothoid_points", "colebrook_full", "colebrook_table", "endarea_pyramid", "grid_cell", "horizontal_curve",
	"manning_full", "manning_partfull", "manning_slope_table", "manning_velocity_table", "trapezoid_cutting",
	"triangle_prism", "two_curves", "vertical_curve",
}

// Published examples; each file names its source. Status as_printed is agreement
// with the source as it stands; rounding and print_error say where it does not;
// own_numbers and memory are no outside agreement.
func TestPublishedQuality(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(qualityFolder(t), "*.json"))
	require.NoError(t, err)
	statuses, seen := map[string]int{}, map[string]bool{}
	for _, f := range files {
		name := filepath.Base(f)
		e := readExample(t, name)
		assert.Contains(t, []string{"as_printed", "rounding", "print_error", "input_fitted", "own_numbers", "memory"}, e.Status, name)
		assert.Equal(t, e.Status == "memory", e.Source.Seen == "memory", name)
		check, ok := judged[e.Kind]
		if !ok {
			assert.Contains(t, elsewhere, e.Kind, name)
			continue
		}
		seen[e.Kind] = true
		statuses[e.Status]++
		t.Run(strings.TrimSuffix(name, ".json"), func(t *testing.T) { check(t, e) })
	}
	assert.Len(t, seen, len(judged), "every kind has an example")
	assert.Equal(t, map[string]int{"as_printed": 17, "rounding": 1, "print_error": 1, "own_numbers": 1, "memory": 1}, statuses)
}

// oimlLots accepts and rejects by k, F and the inequalities of the source. The
// lots are given by mean and standard deviation.
func oimlLots(t *testing.T, e example) {
	decimal := func(v any) unit.Decimal {
		d, exact, err := unit.ParseDecimal(v.(json.Number).String())
		require.NoError(t, err)
		require.True(t, exact)
		return d
	}
	p := Variables{K: decimal(e.Inputs["k"]), Spread: decimal(e.Inputs["F"]), HasSpread: true, Values: int(e.in(t, "n"))}
	require.NoError(t, p.Validate())
	tol := e.tolerance(t, "T_low", "T_up")
	accept := e.Want["accept"].([]any)
	for i, lot := range e.Inputs["lots"].([]any) {
		lot := lot.(map[string]any)
		s := ratOf(decimal(lot["s"]))
		broken := p.broken(ratOf(decimal(lot["mean"])), s.Mul(s, s), tol)
		assert.Equal(t, accept[i], broken == "", "lot %d: %s", i+1, broken)
	}
}

func pwlSingle(t *testing.T, e example) {
	var lot Lot
	tol := e.tolerance(t, "lower", "upper")
	for _, v := range e.Inputs["values"].([]any) {
		x := mm(t, v)
		verdict, beyond := tol.Judge(x)
		lot.Add(x, tol, verdict, beyond)
	}
	m := lot.Moments()
	mean, _ := m.Mean.Float64()
	e.is(t, "mean", mean)
	e.is(t, "s", m.Sd())
	got, err := EstimateWithin(m, tol)
	require.NoError(t, err)
	e.is(t, "PWL", got.Percent)
	e.is(t, "Q_L", got.QLower)
}

// pwlTable reads the printed quality indices back: each must have its
// percentage, to half a hundredth of Q, but for the misprint that is named.
func pwlTable(t *testing.T, e example) {
	rows := readTable(t, filepath.Join(qualityFolder(t), e.Inputs["table"].(string)))
	const half = 0.0051
	off, cells := [][]any{}, 0
	for _, row := range rows {
		percent, negative := number(t, row["pwl_positive_Q"]), number(t, row["pwl_negative_Q"])
		assert.Equal(t, 100.0, percent+negative)
		for column, cell := range row {
			sizes, ok := strings.CutPrefix(column, "n")
			if !ok {
				continue
			}
			cells++
			q := number(t, cell)
			first, last, _ := strings.Cut(sizes, "_")
			if last == "" {
				last = first
			}
			if last == "inf" {
				last = "100000"
			}
			from, to := number(t, first), number(t, last)
			highest, err := PercentWithin(q+half, int(from))
			require.NoError(t, err)
			lowest, err := PercentWithin(q-half, int(from))
			require.NoError(t, err)
			other, err := PercentWithin(q+half, int(to))
			require.NoError(t, err)
			least, err := PercentWithin(q-half, int(to))
			require.NoError(t, err)
			if percent > max(highest, other) || percent < min(lowest, least) {
				off = append(off, []any{json.Number(row["pwl_positive_Q"]), column})
			}
			mirrored, err := PercentWithin(-q, int(from))
			require.NoError(t, err)
			straight, err := PercentWithin(q, int(from))
			require.NoError(t, err)
			assert.InDelta(t, 100-straight, mirrored, 1e-9)
		}
	}
	assert.Equal(t, 255, cells)
	var want [][]any
	for _, c := range e.Want["cells_off"].([]any) {
		want = append(want, c.([]any))
	}
	assert.Equal(t, want, off)
}

// certified compares mean, standard deviation and first autocorrelation with the
// certified figures of NIST: all of them that are printed.
func certified(t *testing.T, e example) {
	var values []unit.Decimal
	add := func(text string) {
		d, exact, err := unit.ParseDecimal(text)
		require.NoError(t, err)
		require.True(t, exact)
		values = append(values, d)
	}
	if g, ok := e.Inputs["generator"].(map[string]any); ok {
		add(g["first"].(string))
		pair := g["pair"].([]any)
		for range int(number(t, g["pairs"])) {
			add(pair[0].(string))
			add(pair[1].(string))
		}
	} else {
		text, err := os.ReadFile(filepath.Join(qualityFolder(t), e.Inputs["file"].(string)))
		require.NoError(t, err)
		for _, line := range strings.Fields(string(text)) {
			add(line)
		}
	}
	require.Len(t, values, int(e.in(t, "n")))
	m := MomentsOf(values)
	same := func(key string, got float64) {
		t.Helper()
		want := e.want(t, key)
		// certified to 15 significant figures, of which the last is rounded
		assert.LessOrEqual(t, math.Abs(got-want), math.Abs(want)*5.1e-15, "%s: %v, certified %v", key, got, want)
	}
	mean, _ := m.Mean.Float64()
	same("mean", mean)
	same("sd_n_minus_1", m.Sd())
	lag, _ := m.Lag1.Float64()
	same("autocorr_lag1", lag)

	// The same values as differences in millimetres, in the order of a lot and
	// in parts.
	lengths := make([]unit.Length, len(values))
	var lot, part Lot
	for i, v := range values {
		l, err := v.Length(unit.MM)
		require.NoError(t, err)
		lengths[i] = l
		if i < len(values)/3 {
			lot.Add(l, Tolerance{}, Pass, 0)
		} else {
			part.Add(l, Tolerance{}, Fail, 0)
		}
	}
	lot.Merge(&part)
	for _, m := range []Moments{MomentsOfLengths(lengths), lot.Moments()} {
		mean, _ := m.Mean.Float64()
		same("mean", mean)
		same("sd_n_minus_1", m.Sd())
	}
	// The usual sum of squares in floating point loses what this keeps.
	if e.Inputs["generator"] != nil {
		sum, squares := 0.0, 0.0
		for _, v := range values {
			sum, squares = sum+v.Float(), squares+v.Float()*v.Float()
		}
		n := float64(len(values))
		assert.Greater(t, math.Abs(math.Sqrt(max(0, (squares-sum*sum/n)/(n-1)))-e.want(t, "sd_n_minus_1")), 1e-6)
	}
}
