package report

import (
	"math"
	"strconv"

	"sightrail/convert/adjust"
	"sightrail/formats/unit"
	"sightrail/qa"
)

// networkPart is what the page says of the adjustment of all runs together.
type networkPart struct {
	Rule     string
	Words    []string
	Class    string
	Points   []networkPoint
	Sections []networkSection
	Loose    []string
	Held     string // degrees of freedom and standard deviation of unit weight
	Free     string // the same with one mark held
}

type networkPoint struct{ Name, Role, Known, Level, SD, Redundancy, W, MDB, State, Class string }

type networkSection struct{ Ends, From, Diff, Over, V, R, W, MDB, State, Class string }

func (p *page) networkPart() *networkPart {
	n := p.Res.Network
	if n == nil {
		return nil
	}
	keys := p.Res.Job.Levelling.Network
	part := &networkPart{Words: n.Words, Class: "v p"}
	if n.Strained {
		part.Class = "v f"
	}
	part.Rule = "weights by " + keys.Weights
	if keys.Deviation != nil {
		part.Rule += ", standard deviation " + keys.Deviation.Exact(unit.MM, 0) + " mm of " + map[string]string{"setups": "one set-up", "distance": "one km levelled one way"}[keys.Weights]
	} else {
		part.Rule += ", no deviation stated: only the ratios count"
	}
	part.Rule += ". Set by: " + keys.Source + "."
	for _, l := range n.Loose {
		part.Loose = append(part.Loose, l.String())
	}
	if n.Study == nil {
		return part
	}
	part.Held, part.Free = freedom(n.Study.Held), freedom(n.Study.Free)
	for i := range n.Points {
		part.Points = append(part.Points, p.networkPoint(&n.Points[i]))
	}
	for i := range n.Sections {
		part.Sections = append(part.Sections, p.networkSection(&n.Sections[i]))
	}
	return part
}

func freedom(r *adjust.Result) string {
	return Count(r.DoF, "degree", "degrees") + " of freedom, standard deviation of unit weight " + decimals(r.S0, 2)
}

func decimals(f float64, places int) string {
	s := strconv.FormatFloat(f, 'f', places, 64)
	if zero := strconv.FormatFloat(0, 'f', places, 64); s == "-"+zero {
		return zero
	}
	return s
}

func (p *page) networkPoint(x *qa.NetworkPoint) networkPoint {
	u := p.Res.Frame.Unit
	out := networkPoint{Name: x.Name, Role: "junction", State: "checked", Class: "v p"}
	if x.State != adjust.Loose {
		out.Level = x.Level.Fixed(u, levelPlaces+1)
	}
	if x.HasSD && x.State == adjust.Adjusted {
		out.SD = decimals(x.SD, 2)
	}
	if x.State == adjust.Adjusted {
		out.Redundancy = decimals(x.Redundancy, 2)
	}
	if x.Mark {
		out.Role, out.Known = "mark", x.Known.Exact(u, levelPlaces)
	}
	if t := x.Test; t != nil && t.Checked {
		out.W, out.MDB = decimals(t.W, 1), decimals(t.MDB, 1)
	}
	switch {
	case x.Accused:
		out.State, out.Class = "accused", "v f"
	case x.Test != nil && math.Abs(x.Test.W) > p.Res.Network.Study.Held.Critical && p.Res.Network.Study.Held.Critical > 0:
		out.State, out.Class = "strained by what is accused", "v o"
	case x.State == adjust.Loose:
		out.State, out.Class = "tied to no mark", "v o"
	case x.Mark && (x.Test == nil || !x.Test.Checked):
		out.State, out.Class = "nothing proves it", "v o"
	case !x.Mark && !x.Checked:
		out.State, out.Class = "nothing checks it", "v o"
	}
	return out
}

func (p *page) networkSection(s *qa.NetworkSection) networkSection {
	u := p.Res.Frame.Unit
	out := networkSection{Ends: s.From + " to " + s.To, From: s.At.String(), Diff: plusSign(levelText(s.Diff, u)), Over: Count(s.Setups, "set-up", "set-ups"), State: "fits", Class: "v p"}
	if s.Distance.Set {
		out.Over += ", " + s.Distance.L.Fixed(u, 0) + " " + u.Name
	}
	r := &s.Residual
	switch {
	case s.Unused != "":
		out.State, out.Class = "not in the network: "+s.Unused, "v o"
		return out
	case !r.Adjusted:
		out.State, out.Class = "tied to no mark", "v o"
		return out
	}
	out.V, out.R = plusSign(decimals(r.V, 1)), decimals(r.Redundancy, 2)
	switch {
	case !r.Checked:
		out.State, out.Class = "nothing checks it", "v o"
		return out
	case s.Accused:
		out.State, out.Class = "accused", "v f"
	case math.Abs(r.W) > p.Res.Network.Study.Held.Critical && p.Res.Network.Study.Held.Critical > 0:
		out.State, out.Class = "strained by what is accused", "v o"
	}
	out.W, out.MDB = decimals(r.W, 1), decimals(r.MDB, 1)
	return out
}
