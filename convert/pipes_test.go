package convert

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats"
	"sightrail/formats/unit"
)

func reading(t testing.TB, s string) formats.Reading {
	return formats.Reading{Set: true, Value: number(t, s)}
}

// drain is three pits in a line to the north, 50 m apart, and two pipes of
// 300 mm that fall at 1 in 100 with a step of 20 mm in the middle pit.
func drain(t testing.TB) *formats.Network {
	at := func(row int) formats.Pos { return formats.Pos{File: "design.xml", Row: row, Col: 1} }
	pit := func(row int, name, n string, inverts ...formats.Invert) formats.Structure {
		for i := range inverts {
			inverts[i].Pos = at(row + i + 1)
		}
		return formats.Structure{Name: name, Pos: at(row), E: number(t, "500"), N: number(t, n), Placed: true, Rim: reading(t, "12.000"), Kind: "circular",
			Diameter: reading(t, "1050"), DimUnit: unit.MM, Sump: reading(t, "9.000"), Inverts: inverts}
	}
	pipe := func(row int, name, start, end string) formats.Pipe {
		return formats.Pipe{Name: name, Pos: at(row), Start: start, End: end, Shape: "circular", Bore: reading(t, "300"), Wall: reading(t, "45"), DimUnit: unit.MM, Material: "concrete"}
	}
	return &formats.Network{Name: "SW", Pos: at(1), Type: "storm",
		Structures: []formats.Structure{
			pit(10, "A", "1000", formats.Invert{Elev: reading(t, "10.500"), Flow: "out", Pipe: "P1"}),
			pit(20, "B", "1050", formats.Invert{Elev: reading(t, "10.000"), Flow: "in", Pipe: "P1"}, formats.Invert{Elev: reading(t, "9.980"), Flow: "out", Pipe: "P2"}),
			pit(30, "C", "1100.000", formats.Invert{Elev: reading(t, "9.480"), Flow: "in", Pipe: "P2"})},
		Pipes: []formats.Pipe{pipe(40, "P1", "A", "B"), pipe(50, "P2", "B", "C")}}
}

var (
	drainFrame = &Frame{Unit: unit.M, E0: 400, N0: 900}
	inMetres   = formats.Units{Linear: unit.M}
	atCentre   = NetworkOptions{InvertsAt: "centre"}
)

func TestNetworkAsDrawn(t *testing.T) {
	n, problems := NewNetwork(drain(t), inMetres, atCentre, drainFrame)
	require.Empty(t, problems)
	require.Empty(t, n.Notes)
	require.Len(t, n.Pipes, 2)
	p := n.Pipes[1]
	assert.Equal(t, Pipe{Name: "P2", Pos: p.Pos, US: 1, DS: 2, USInvert: number3(9980), DSInvert: number3(9480), USPos: formats.Pos{File: "design.xml", Row: 22, Col: 1},
		DSPos: formats.Pos{File: "design.xml", Row: 31, Col: 1}, Length: 50 * metre, Bore: number3(300), Wall: number3(45), Material: "concrete", Shape: "circular"}, p)
	assert.Equal(t, "1 in 100", p.Grade().OneIn())
	assert.Equal(t, Pit{Name: "B", Pos: n.Pits[1].Pos, Place: Place{100 * metre, 150 * metre}, Placed: true, Rim: 12 * metre, HasRim: true, Radius: number3(525)}, n.Pits[1])
}

func number3(mm int64) unit.Length { return unit.Length(mm) * unit.Millimetre }

// The inverts name the ends, whatever the file's direction and chainage.
func TestFlowByInverts(t *testing.T) {
	want, _ := NewNetwork(drain(t), inMetres, atCentre, drainFrame)
	in := drain(t)
	for i := range in.Pipes {
		in.Pipes[i].Start, in.Pipes[i].End = in.Pipes[i].End, in.Pipes[i].Start
	}
	n, problems := NewNetwork(in, inMetres, atCentre, drainFrame)
	assert.Empty(t, problems)
	assert.Empty(t, n.Notes, "refStart to refEnd is no statement about flow")
	assert.Equal(t, want.Pipes, n.Pipes)

	// one flag of two is enough for a note; "both" says nothing
	for flags, notes := range map[[2]string]int{{"out", "in"}: 0, {"in", "out"}: 1, {"in", "in"}: 1, {"out", "out"}: 1, {"", ""}: 0, {"both", "both"}: 0, {"in", ""}: 1, {"both", "in"}: 0} {
		in := drain(t)
		in.Structures[0].Inverts[0].Flow, in.Structures[1].Inverts[0].Flow = flags[0], flags[1]
		n, problems := NewNetwork(in, inMetres, atCentre, drainFrame)
		assert.Empty(t, problems)
		require.Len(t, n.Notes, notes, "%v", flags)
		assert.Equal(t, want.Pipes, n.Pipes)
		if notes > 0 {
			assert.Equal(t, "design.xml:40:1: pipe P1: the flow flags in the file say that it runs from B to A; by its inverts it falls from A (10.500 m) to B (10.000 m), and the inverts are used", n.Notes[0].String())
		}
	}
}

func TestEqualInverts(t *testing.T) {
	level := func() *formats.Network {
		in := drain(t)
		in.Structures[1].Inverts[0].Elev = reading(t, "10.5")
		return in
	}
	for to, want := range map[string]string{
		"B": "", "A": "",
		"":  `design.xml:40:1: pipe P1: nothing can be judged on it: its two design inverts are equal; say in the job which pit it flows to: "flow: {P1: B}"`,
		"C": `the job says that it flows to "C", which is neither of its pits ("A" and "B")`,
	} {
		opt := atCentre
		if to != "" {
			opt.Flow = map[string]string{"P1": to}
		}
		n, problems := NewNetwork(level(), inMetres, opt, drainFrame)
		if want != "" {
			require.Len(t, problems, 1)
			assert.Contains(t, problems[0].String(), want)
			assert.NotEmpty(t, n.Pipes[0].Bad)
			assert.Empty(t, n.Pipes[1].Bad)
			continue
		}
		assert.Empty(t, problems)
		assert.Empty(t, n.Pipes[0].Bad)
		assert.Equal(t, to, n.Pits[n.Pipes[0].DS].Name)
	}
	// a job that says what the inverts say is right, the opposite is not
	_, problems := NewNetwork(drain(t), inMetres, NetworkOptions{InvertsAt: "centre", Flow: map[string]string{"P1": "B"}}, drainFrame)
	assert.Empty(t, problems)
	_, problems = NewNetwork(drain(t), inMetres, NetworkOptions{InvertsAt: "centre", Flow: map[string]string{"P1": "A", "P9": "B", "P8": "A"}}, drainFrame)
	require.Len(t, problems, 3)
	assert.Contains(t, problems[0].String(), `how pipe "P8" flows, and the network has no such pipe`)
	assert.Contains(t, problems[1].String(), `how pipe "P9" flows`)
	assert.Contains(t, problems[2].String(), `the job says that it flows to "A", and its design inverts fall the other way, by 0.500 m`)
}

// What cannot be judged says why, and the other pipe is not touched.
func TestBadPipes(t *testing.T) {
	for name, c := range map[string]struct {
		spoil func(*formats.Network)
		opt   NetworkOptions
		want  string
	}{
		"no such pit":         {func(n *formats.Network) { n.Pipes[0].Start = "X" }, atCentre, `it runs from "X" to "B", and the network has no pit "X"`},
		"pit with no place":   {func(n *formats.Network) { n.Structures[0].Placed = false }, atCentre, `pit "A" has no place`},
		"pit far away":        {func(n *formats.Network) { n.Structures[0].N = number(t, "5812000") }, atCentre, `pit "A" has no place`},
		"one place":           {func(n *formats.Network) { n.Structures[0].N = number(t, "1050") }, atCentre, "its two pits are at one place"},
		"a ring":              {func(n *formats.Network) { n.Pipes[0].Start = "B" }, atCentre, `it begins and ends in pit "B"`},
		"no invert":           {func(n *formats.Network) { n.Structures[0].Inverts = nil }, atCentre, `pit "A" has no invert for it (the sump of a pit is not an invert)`},
		"an invert unset":     {func(n *formats.Network) { n.Structures[0].Inverts[0].Elev.Set = false }, atCentre, `pit "A" has no invert for it`},
		"another pipe's":      {func(n *formats.Network) { n.Structures[0].Inverts[0].Pipe = "P2" }, atCentre, `pit "A" has no invert for it`},
		"an invert too large": {func(n *formats.Network) { n.Structures[0].Inverts[0].Elev = reading(t, "9999999") }, atCentre, `its invert in pit "A", 9999999: `},
		"two inverts": {func(n *formats.Network) {
			n.Structures[0].Inverts = append(n.Structures[0].Inverts, formats.Invert{Elev: reading(t, "10.501"), Pipe: "P1"})
		}, atCentre, `pit "A" has two different inverts for it, 10.500 m and 10.501 m`},
		"bore in the wrong unit": {func(n *formats.Network) { n.Pipes[0].DimUnit = unit.CM }, atCentre, `its bore of 3.000 m is larger than the depth of pit "A" from rim to invert, 1.500 m`},
		"bore just too large":    {func(n *formats.Network) { n.Pipes[0].Bore = reading(t, "1500.1") }, atCentre, `its bore of 1.5001 m is larger than the depth`},
		"pit of unknown size":    {func(n *formats.Network) { n.Structures[0].DimUnit = unit.Unit{} }, NetworkOptions{InvertsAt: "innerFace"}, `no diameter with a unit for pit "A"`},
		"pits too large":         {func(n *formats.Network) { n.Structures[0].DimUnit = unit.M }, NetworkOptions{InvertsAt: "innerFace"}, `leave no length between their inner faces`},
	} {
		in := drain(t)
		c.spoil(in)
		n, problems := NewNetwork(in, inMetres, c.opt, drainFrame)
		assert.Contains(t, n.Pipes[0].Bad, c.want, name)
		assert.Empty(t, n.Pipes[1].Bad, name)
		last := problems[len(problems)-1]
		assert.True(t, strings.HasPrefix(last.String(), "design.xml:40:1: pipe P1: nothing can be judged on it: "), "%s: %s", name, last)
	}
	// a bore of the whole depth still fits
	in := drain(t)
	in.Pipes[0].Bore = reading(t, "1500")
	n, problems := NewNetwork(in, inMetres, atCentre, drainFrame)
	assert.Empty(t, problems)
	assert.Equal(t, number3(1500), n.Pipes[0].Bore)
}

// A name that stands twice leads nowhere: neither pipe of the name, and no pipe
// to the pit, is judged.
func TestNamesTwice(t *testing.T) {
	in := drain(t)
	in.Pipes[1].Name = "P1"
	n, problems := NewNetwork(in, inMetres, atCentre, drainFrame)
	assert.Len(t, problems, 2)
	for _, p := range n.Pipes {
		assert.Equal(t, "two pipes of the network have this name", p.Bad)
	}
	in = drain(t)
	in.Structures[2].Name = "A"
	n, problems = NewNetwork(in, inMetres, atCentre, drainFrame)
	require.Len(t, problems, 3)
	assert.Equal(t, "design.xml:30:1: pit A: two pits of the network have this name; pipes to it cannot be judged", problems[0].String())
	assert.Equal(t, `two pits of the network are named "A"`, n.Pipes[0].Bad)
	assert.Len(t, n.Pits, 3)
}

func TestInnerFace(t *testing.T) {
	n, problems := NewNetwork(drain(t), inMetres, NetworkOptions{InvertsAt: "innerFace"}, drainFrame)
	require.Empty(t, problems)
	require.Empty(t, n.Notes)
	p := &n.Pipes[0]
	assert.Equal(t, 50*metre-number3(1050), p.Length)
	along, offset := n.Project(0, n.Pits[0].Place)
	assert.Equal(t, [2]unit.Length{-number3(525), 0}, [2]unit.Length{along, offset})
	along, _ = n.Project(0, Place{100 * metre, 100*metre + number3(525)})
	assert.Zero(t, along)
	assert.Equal(t, p.USInvert, p.InvertAt(along))
	along, _ = n.Project(0, n.Pits[1].Place)
	assert.Equal(t, p.Length+number3(525), along)
}

func TestNetworkNotes(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*formats.Network)
		opt    NetworkOptions
		want   string
	}{
		"centre, sizes known":   {func(*formats.Network) {}, NetworkOptions{}, "design.xml:1:1: nothing says where along the pipes the inverts are; they are taken at the centres of the pits (at their inner faces the design inverts would move by up to 5.3 mm, pipe P1 in pit A)"},
		"centre, sizes unknown": {func(n *formats.Network) { undimensioned(n) }, NetworkOptions{}, "(at the inner face of a pit of 1 m the design invert would move by up to 5 mm)"},
		"no unit of sizes":      {func(n *formats.Network) { n.Pipes[1].DimUnit = unit.Unit{} }, atCentre, "design.xml:1:1: pipe sizes: the sizes of 1 pipes have no unit and are not used (the first is pipe P2, 300)"},
		"an invert of no pipe": {func(n *formats.Network) {
			n.Structures[0].Inverts = append(n.Structures[0].Inverts, formats.Invert{Elev: reading(t, "9.9"), Pipe: "P7", Pos: n.Pos})
		}, atCentre, `pit A: its invert 9.9 is for pipe "P7", and no such pipe begins or ends here`},
		"a pipe elsewhere": {func(n *formats.Network) {
			n.Structures[0].Inverts = append(n.Structures[0].Inverts, formats.Invert{Elev: reading(t, "9.9"), Pipe: "P2"})
		}, atCentre, `pit A: its invert 9.9 is for pipe "P2"`},
		"a rim below":         {func(n *formats.Network) { n.Structures[0].Rim = reading(t, "0.000") }, atCentre, "design.xml:10:1: pit A: its rim level 0.000 m is not above the invert of pipe P1, 10.500 m"},
		"a rim too large":     {func(n *formats.Network) { n.Structures[0].Rim = reading(t, "9999999") }, atCentre, "pit A: its rim level 9999999 is not used"},
		"no bore":             {func(n *formats.Network) { n.Pipes[0].Bore = reading(t, "0") }, atCentre, "pipe P1: its bore of 0 mm is not used"},
		"a slope that is not": {func(n *formats.Network) { n.Pipes[0].Slope = reading(t, "0.5") }, atCentre, "pipe P1: the file states a slope of 0.5, and its inverts and the plan distance of its pits give 1.000 %"},
	} {
		in := drain(t)
		c.change(in)
		n, problems := NewNetwork(in, inMetres, c.opt, drainFrame)
		assert.Empty(t, problems, name)
		require.Len(t, n.Notes, 1, name)
		assert.Contains(t, n.Notes[0].String(), c.want, name)
		assert.Empty(t, n.Pipes[0].Bad+n.Pipes[1].Bad, name)
	}
	// a slope may be a percentage or a ratio, with either sign
	for _, s := range []string{"1", "1.0000", "-1", "0.01", "-0.01", "1.01"} {
		in := drain(t)
		in.Pipes[0].Slope = reading(t, s)
		n, _ := NewNetwork(in, inMetres, atCentre, drainFrame)
		assert.Empty(t, n.Notes, s)
	}
}

func undimensioned(n *formats.Network) {
	for i := range n.Structures {
		n.Structures[i].DimUnit = unit.Unit{}
	}
}

// Levels may have a unit of their own.
func TestLevelUnit(t *testing.T) {
	n, problems := NewNetwork(drain(t), formats.Units{Linear: unit.M, Level: unit.Ft}, atCentre, drainFrame)
	require.Empty(t, problems)
	assert.Equal(t, 12*unit.InternationalFoot, n.Pits[0].Rim)
	assert.Equal(t, unit.InternationalFoot/2, n.Pipes[0].USInvert-n.Pipes[0].DSInvert)
	assert.Equal(t, 50*metre, n.Pipes[0].Length)
}

// A real storm drain (open Inframodel sample): every pipe falls from start to
// end as its flags say, and its stated slope, in percent, is the fall over the
// plan distance of its pits.
func TestRealStormDrain(t *testing.T) {
	d := designFile(t, "d08_storm_pipes_circ.xml")
	n, problems := NewNetwork(&d.Networks[0], d.Units, NetworkOptions{}, &Frame{Unit: unit.M, E0: 24_525_000, N0: 6_876_000})
	require.Empty(t, problems)
	require.Len(t, n.Notes, 1)
	assert.Contains(t, n.Notes[0].Text, "taken at the centres of the pits")
	require.Len(t, n.Pipes, 6)
	for i, p := range n.Pipes {
		in := &d.Networks[0].Pipes[i]
		assert.Empty(t, p.Bad)
		assert.Equal(t, in.Start, n.Pits[p.US].Name)
		assert.Equal(t, in.End, n.Pits[p.DS].Name)
		within := 1e-6
		if p.Name == "109" || p.Name == "210" {
			within = 0.01 // the file draws these two from up to 34 mm beside the centre of pit 56
		}
		assert.InEpsilon(t, in.Slope.Value.Float(), 100*p.Grade().Ratio(), within, p.Name)
		along, offset := n.Project(i, n.Pits[p.DS].Place)
		assert.Equal(t, [2]unit.Length{p.Length, 0}, [2]unit.Length{along, offset})
	}
	assert.Equal(t, number3(400), n.Pipes[0].Bore)
	assert.Equal(t, number3(60), n.Pipes[0].Wall)
	assert.Equal(t, "239.0", n.Pipes[4].Bore.Fixed(unit.MM, 1))
}

// A real network in feet: in three of five pipes the flags contradict the
// inverts, and the pipe sizes have no unit.
func TestRealNetworkAgainstItsFlags(t *testing.T) {
	d := designFile(t, "d11_subdivision_11_foot_pipes.xml")
	f := &Frame{Unit: unit.Ft}
	n, problems := NewNetwork(&d.Networks[0], d.Units, NetworkOptions{}, f)
	require.Empty(t, problems)
	var flags, sizes []string
	for _, note := range n.Notes {
		switch {
		case strings.Contains(note.Text, "flow flags"):
			flags = append(flags, note.Field)
		case strings.Contains(note.Text, "have no unit"):
			sizes = append(sizes, note.Text)
		}
	}
	slices.Sort(flags)
	assert.Equal(t, []string{"pipe Pipe3", "pipe Pipe4", "pipe Pipe5"}, flags)
	require.Len(t, sizes, 1)
	assert.Contains(t, sizes[0], "the sizes of 5 pipes have no unit")
	assert.Len(t, n.Notes, 5)
	names := ""
	for _, p := range n.Pipes {
		assert.Empty(t, p.Bad)
		assert.Zero(t, p.Bore)
		assert.Positive(t, p.Grade().Rise)
		names += n.Pits[p.US].Name + ">" + n.Pits[p.DS].Name + " "
	}
	assert.Equal(t, "Struct1>Struct2 Struct2>Struct3 Struct4>Struct3 Struct5>Struct4 Struct6>Struct5 ", names)
	// Pipe1 in the file's own feet
	p := &n.Pipes[0]
	assert.Equal(t, "253.191490", p.USInvert.Fixed(unit.Ft, 6))
	assert.InDelta(t, math.Hypot(1217.64087219-1050.37001385, 843.25113901-653.42669983), float64(p.Length)/float64(unit.Ft.Size), 1e-9)

	// declared in the wrong unit, 8 feet of bore do not fit under the rim
	for i := range d.Networks[0].Pipes {
		d.Networks[0].Pipes[i].DimUnit = unit.Ft
	}
	_, problems = NewNetwork(&d.Networks[0], d.Units, atCentre, f)
	require.Len(t, problems, 5)
	assert.Contains(t, problems[0].Text, `its bore of 8.000 ft is larger than the depth of pit "Struct1" from rim to invert, 4.100 ft`)
}
