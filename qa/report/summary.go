package report

import (
	"encoding/json"
	"io"
	"math"

	"sightrail/formats"
	"sightrail/formats/unit"
	"sightrail/qa"
)

// Summary is summary.json: the verdict and its figures, for programs.
var Summary = &Kind{Name: "summary", File: "summary.json", Doc: "verdict, counts, statistics, misclosures and hashes, for programs", Start: startSummary}

type summaryWriter struct{ w io.Writer }

func startSummary(w io.Writer, _ *qa.Result) (Writer, error) { return &summaryWriter{w}, nil }

func (summaryWriter) Rows([]qa.Row) error { return nil }

func (summaryWriter) printer() rowPrinter { return nil }

func (summaryWriter) printed([]byte) error { return nil }

type summaryDoc struct {
	Sightrail   string         `json:"sightrail"`
	Project     string         `json:"project"`
	Lot         string         `json:"lot"`
	Element     string         `json:"element"`
	Clause      string         `json:"clause"`
	Revision    string         `json:"revision"`
	Units       string         `json:"units"`
	Grid        string         `json:"grid"`
	HeightDatum string         `json:"heightDatum"`
	Verdict     qa.Verdict     `json:"verdict"`
	Complete    bool           `json:"complete"`
	Checks      []summaryCheck `json:"checks"`
	Lots        []qa.LotResult `json:"lots,omitempty"`
	Patches     *summaryNCR    `json:"nonconformances,omitempty"`
	Rows        qa.Account     `json:"rows"`
	Inputs      []qa.Input     `json:"inputs"`
	Misclosures []misclosure   `json:"misclosures"`
	CheckShots  []summaryMark  `json:"checkShots"`
	Proved      []string       `json:"levels"`
	Missing     []string       `json:"notSupplied"`
	Problems    []string       `json:"problems"`
	Notes       []string       `json:"notes"`
}

// summaryNCR is what the register came to, and how many failures are under a
// concession.
type summaryNCR struct {
	Open     int `json:"open"`
	Closed   int `json:"closed"`
	Conceded int `json:"failuresUnderConcession"`
	Rounds   int `json:"superseded"`
}

type summaryCheck struct {
	Kind    string       `json:"kind"`
	Name    string       `json:"name"`
	Element string       `json:"element"`
	Counts  qa.Counts    `json:"counts"`
	Stats   summaryStats `json:"stats"`
	Remarks []string     `json:"remarks"`
	Figures []qa.Figure  `json:"figures,omitempty"`

	Acceptance []qa.AcceptanceResult `json:"acceptance,omitempty"`
	Accepted   int                   `json:"acceptedByPlan,omitempty"`
}

// summaryStats are the statistics; what n rows cannot tell is null.
type summaryStats struct {
	N             int      `json:"n"`
	MeanMm        *float64 `json:"meanMm"`
	SdMm          *float64 `json:"sdMm"`
	RmsMm         *float64 `json:"rmsMm"`
	MinMm         *float64 `json:"minMm"`
	MaxMm         *float64 `json:"maxMm"`
	WithinPercent *float64 `json:"withinPercent"`

	High          int        `json:"high"`
	Low           int        `json:"low"`
	RunOfFailures *int       `json:"runOfFailures"`
	RunOrder      string     `json:"runOrder,omitempty"`
	MedianMm      *float64   `json:"medianMm"`
	Quantiles     []quantile `json:"quantiles"`
	WholeMm       bool       `json:"quantilesOfWholeMm,omitempty"`
}

// quantile is the difference that a share of the values does not exceed.
type quantile struct {
	Percent int      `json:"percent"`
	Mm      *float64 `json:"mm"`
}

func summaryStatsOf(s *qa.Stats) summaryStats {
	out := summaryStats{N: s.N, High: s.High, Low: s.Low, RunOrder: s.RunOrder, WholeMm: s.Coarse, Quantiles: []quantile{}}
	if s.N == 0 {
		return out
	}
	out.MeanMm, out.RmsMm, out.MinMm, out.MaxMm, out.WithinPercent = places6(s.MeanMm), places6(s.RmsMm), places6(s.MinMm), places6(s.MaxMm), places6(s.WithinPercent)
	if s.N > 1 {
		out.SdMm = places6(s.SdMm)
	}
	if s.RunOfFailures >= 0 {
		out.RunOfFailures = &s.RunOfFailures
	}
	for i, q := range s.Quantiles {
		out.Quantiles = append(out.Quantiles, quantile{qa.QuantilePercents[i], places6(q)})
	}
	if len(s.Quantiles) > 0 {
		out.MedianMm = places6(s.MedianMm())
	}
	return out
}

type misclosure struct {
	Book       string   `json:"book"`
	From       string   `json:"from"`
	To         string   `json:"to"`
	Setups     int      `json:"setups"`
	DistanceM  *float64 `json:"distanceM"`
	Misclosure *float64 `json:"misclosureMm"`
	Allowed    *float64 `json:"allowedMm"`
	Rule       string   `json:"rule"`
	State      string   `json:"state"`
	Proved     bool     `json:"proved"`
	Judged     string   `json:"levelsJudged"`
}

type summaryMark struct {
	Mark    string   `json:"mark"`
	At      string   `json:"at"`
	LevelMm float64  `json:"levelMm"`
	PlanMm  *float64 `json:"planMm"`
	Judged  bool     `json:"judged"`
	Within  bool     `json:"within"`
}

// places6 keeps six decimals, so that a figure is the same on every machine.
func places6(f float64) *float64 {
	f = math.Round(f*1e6) / 1e6
	if f == 0 {
		f = 0 // no minus zero
	}
	return &f
}

func millimetre(l unit.Length) *float64 { return places6(l.Millimetres()) }

func (s *summaryWriter) Close(r *qa.Result) error {
	d := summaryDoc{Sightrail: r.Version, Project: r.Job.Project, Lot: r.Job.Lot, Element: r.Job.Element, Clause: r.Job.Clause, Revision: r.Job.Revision,
		Units: r.Frame.Unit.Name, Grid: r.Frame.Grid, HeightDatum: r.Frame.Datum, Verdict: r.Verdict, Complete: r.Complete, Lots: r.Lots, Rows: r.Account,
		Inputs: r.Inputs, Checks: []summaryCheck{}, Misclosures: misclosures(r), CheckShots: []summaryMark{}, Proved: list(r.Proved), Missing: list(r.Missing),
		Problems: lines(r.Problems), Notes: lines(r.Notes)}
	if g := r.Register; g != nil || r.Conceded > 0 || r.RoundCount > 0 {
		d.Patches = &summaryNCR{Conceded: r.Conceded, Rounds: r.RoundCount}
		if g != nil {
			d.Patches.Open = g.OpenCount()
			d.Patches.Closed = len(g.Entries) - d.Patches.Open
		}
	}
	for i := range r.Checks {
		c := &r.Checks[i]
		d.Checks = append(d.Checks, summaryCheck{c.Kind.Name, c.Common.Name, c.Common.Element, c.Counts, summaryStatsOf(&c.Stats), list(c.Remarks), c.Figures, c.Acceptance, c.Accepted})
	}
	for i := range r.Marks {
		m := &r.Marks[i]
		x := summaryMark{Mark: m.Mark, At: m.Shot.Pos.String(), LevelMm: *millimetre(m.LevelDiff), Judged: m.Judged, Within: m.Within}
		if m.HasPlan {
			x.PlanMm = millimetre(m.PlanDiff)
		}
		d.CheckShots = append(d.CheckShots, x)
	}
	enc := json.NewEncoder(s.w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", " ")
	return enc.Encode(d)
}

func list(l []string) []string { return append([]string{}, l...) }

func lines(l []formats.Problem) []string {
	out := make([]string, len(l))
	for i, p := range l {
		out[i] = p.String()
	}
	return out
}

func misclosures(r *qa.Result) []misclosure {
	out := []misclosure{}
	for i := range r.Books {
		b := &r.Books[i]
		if b.Result == nil {
			continue
		}
		for _, x := range b.Result.Runs {
			m := misclosure{Book: b.Book.Pos.File, From: x.From, To: x.To, Setups: x.Setups, Rule: b.Rule.Text, State: x.State.String(), Proved: x.State.Proved(), Judged: "raw"}
			if b.Book.Pos.Part != "" {
				m.Book += "[" + b.Book.Pos.Part + "]"
			}
			if r.Job.Levelling.Judge == "adjusted" && x.Distributed != "" {
				m.Judged = "adjusted"
			}
			if x.Distance.Set {
				m.DistanceM = places6(x.Distance.L.Metres())
			}
			if x.Misclosure.Set {
				m.Misclosure = millimetre(x.Misclosure.L)
			}
			if x.Allowed.Set {
				m.Allowed = millimetre(x.Allowed.L)
			}
			out = append(out, m)
		}
	}
	return out
}
