package landxml

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// network is a network of two structures and a pipe of that shape, with Units
// of its own in Structs and Pipes.
func network(structUnits, pipeUnits, shape string) string {
	return `<PipeNetworks><PipeNetwork name="N 1" pipeNetType="storm"><Structs>` + structUnits +
		`<Struct name=" A" desc="first" elevRim="4" elevSump="1"><Center>100 200</Center><CircStruct diameter="1050"/><Invert elev="2.345" flowDir="out" refPipe="P"/></Struct>` +
		`<Struct name="B"><Center>100 210 7</Center><RectStruct length="900" width="600"/><Invert elev="1.9" flowDir="in" refPipe="P"/></Struct></Structs>` +
		`<Pipes>` + pipeUnits + `<Pipe name="P" refStart=" A" refEnd="B" slope="1.0" length="10">` + shape + `</Pipe></Pipes></PipeNetwork></PipeNetworks>`
}

const circular = `<CircPipe diameter="300" thickness="30" material="concrete"/>`

func TestNetwork(t *testing.T) {
	d := read(t, file(network("", "", circular)))
	n := d.Networks[0]
	assert.Equal(t, "N 1", n.Name)
	assert.Equal(t, "storm", n.Type)
	a, b, p := n.Structures[0], n.Structures[1], n.Pipes[0]
	assert.Equal(t, " A", a.Name)
	assert.Equal(t, []string{"100", "200", "4", "1", "1050", "2.345"}, []string{a.N.String(), a.E.String(), a.Rim.Value.String(), a.Sump.Value.String(), a.Diameter.Value.String(), a.Inverts[0].Elev.Value.String()})
	assert.Equal(t, "out", a.Inverts[0].Flow)
	assert.Equal(t, "circular", a.Kind)
	assert.Equal(t, []string{"rectangular", "900", "600"}, []string{b.Kind, b.Length.Value.String(), b.Width.Value.String()})
	assert.False(t, b.Sump.Set || b.Rim.Set)
	assert.Equal(t, "210", b.E.String(), "a third number of a centre is no invert")
	assert.Equal(t, []string{"circular", "300", "30", "concrete", " A", "B", "1.0"}, []string{p.Shape, p.Bore.Value.String(), p.Wall.Value.String(), p.Material, p.Start, p.End, p.Slope.Value.String()})
	assert.Equal(t, unit.MM, p.DimUnit)
	assert.Equal(t, unit.MM, a.DimUnit)
	assert.False(t, b.DimUnit.Known(), "the unit of widths is not said")
	assert.Contains(t, texts(d.Notes), "network N 1: pipes and structures whose sizes have no unit (no diameterUnit, heightUnit or widthUnit in Units): 1;")
	assert.Contains(t, texts(d.Notes), "LandXML does not say the unit of wall thickness; it is taken to be that of the size of the pipe: 1")
}

func TestShapesOfPipes(t *testing.T) {
	for shape, want := range map[string][4]string{
		`<CircPipe diameter="300"/>`:                                   {"circular", "300", "", ""},
		`<EggPipe height="900" span="600"/>`:                           {"egg", "900", "600", ""},
		`<ElliPipe height="900" span="600"/>`:                          {"elliptical", "900", "600", ""},
		`<RectPipe height="900" width="600"/>`:                         {"rectangular", "900", "600", ""},
		`<Channel height="300" widthTop="600" widthBottom="500"/>`:     {"channel", "300", "600", "500"},
		`<PipeFlow flowIn="1"/><Center>1 2</Center><Feature code=""/>`: {"", "", "", ""},
	} {
		p := read(t, file(network("", "", shape))).Networks[0].Pipes[0]
		value := func(r formats.Reading) string {
			if !r.Set {
				return ""
			}
			return r.Value.String()
		}
		assert.Equal(t, want, [4]string{p.Shape, value(p.Bore), value(p.Width), value(p.Bottom)})
	}
}

// Sizes are in the unit that is stated for their kind: by the network itself,
// by the file, or by who asks; else in none.
func TestUnitOfSizes(t *testing.T) {
	m := func(rest string) string { return units("Metric", `linearUnit="meter"`+rest) }
	rect := `<RectPipe height="900" width="600"/>`
	for name, c := range map[string]struct {
		units, structs, pipes, shape string
		opt, pipe, pit               unit.Unit
		note                         string
	}{
		"of the file":                   {m(` diameterUnit="millimeter"`), "", "", circular, unit.Unit{}, unit.MM, unit.MM, ""},
		"of nobody":                     {m(""), "", "", circular, unit.Unit{}, unit.Unit{}, unit.Unit{}, "Units): 3;"},
		"declared":                      {m(""), "", "", circular, unit.MM, unit.MM, unit.MM, "taken as mm, as declared: 3"},
		"of the pipes":                  {m(""), "", m(` diameterUnit="centimeter"`), circular, unit.Unit{}, unit.CM, unit.Unit{}, "Units): 2;"},
		"of the structures":             {m(` diameterUnit="meter"`), m(` diameterUnit="centimeter" widthUnit="meter"`), "", circular, unit.Unit{}, unit.M, unit.CM, ""},
		"network's own says nothing":    {m(` diameterUnit="millimeter"`), "", m(""), circular, unit.Unit{}, unit.Unit{}, unit.MM, "Units): 2;"},
		"height by its own unit":        {m(` diameterUnit="meter" heightUnit="millimeter"`), "", "", rect, unit.Unit{}, unit.MM, unit.M, ""},
		"height is no diameter":         {m(` diameterUnit="millimeter"`), "", "", rect, unit.Unit{}, unit.Unit{}, unit.MM, "Units): 2;"},
		"height is no width":            {m(` widthUnit="millimeter"`), "", "", rect, unit.Unit{}, unit.Unit{}, unit.Unit{}, "Units): 2;"},
		"declared for what is not said": {m(` diameterUnit="millimeter"`), "", "", rect, unit.MM, unit.MM, unit.MM, "taken as mm, as declared: 2"},
		"without any units in the file": {"", "", m(` diameterUnit="millimeter"`), circular, unit.Unit{}, unit.MM, unit.Unit{}, "Units): 2;"},
	} {
		t.Run(name, func(t *testing.T) {
			opt := formats.Options{DimUnit: c.opt}
			if c.units == "" {
				opt.Unit = unit.M
			}
			d := decodeText(t, root+c.units+network(c.structs, c.pipes, c.shape)+"</LandXML>", opt)
			require.Empty(t, d.Problems)
			assert.Equal(t, c.pipe, d.Networks[0].Pipes[0].DimUnit)
			assert.Equal(t, c.pit, d.Networks[0].Structures[0].DimUnit)
			assert.Contains(t, texts(d.Notes), c.note)
		})
	}
	for name, c := range map[string]struct {
		text, want string
		opt        formats.Options
	}{
		"declared otherwise": {root + m(` diameterUnit="meter"`) + network("", "", circular), "pipe P: the file says that its size is in m, and mm is declared for sizes", formats.Options{DimUnit: unit.MM}},
		"two units":          {root + m(` heightUnit="meter" widthUnit="millimeter"`) + network("", "", rect), "pipe P: its height is in m and its width in mm", formats.Options{}},
		"lengths of its own": {root + m("") + network("", units("Metric", `linearUnit="millimeter"`), circular), `the network "N 1" has units of its own with lengths in mm, where the file has m`, formats.Options{}},
		"own and declared":   {root + network("", units("Metric", `linearUnit="millimeter"`), circular), `lengths in mm, where the file has m`, formats.Options{Unit: unit.M}},
		"own and unknown":    {root + m("") + network(units("Metric", `linearUnit="ell"`), "", circular), `"ell" is not a unit of length`, formats.Options{}},
		"own twice":          {root + m("") + network("", m(` diameterUnit="meter"`)+m(` diameterUnit="millimeter"`), circular), `states the units of its pipes twice and not alike`, formats.Options{}},
		"own, of sizes":      {root + m("") + network("", m(` diameterUnit="ell"`), circular), `diameterUnit: "ell" is not a unit of length`, formats.Options{}},
	} {
		t.Run(name, func(t *testing.T) {
			d := decodeText(t, c.text+"</LandXML>", c.opt)
			require.NotEmpty(t, d.Problems)
			assert.Contains(t, texts(d.Problems), c.want)
		})
	}
}

// NaN is a legal number that says nothing; it is counted.
func TestNaNIsNotGiven(t *testing.T) {
	d := read(t, file(strings.ReplaceAll(network("", "", `<CircPipe diameter="300" thickness="NaN"/>`), `elev="1.9"`, `elev="NaN"`)))
	assert.False(t, d.Networks[0].Pipes[0].Wall.Set)
	assert.False(t, d.Networks[0].Structures[1].Inverts[0].Elev.Set)
	assert.Contains(t, texts(d.Notes), "t.xml: elev: values that are NaN (not a number), taken as not given: 1\nt.xml: thickness: values that are NaN")
	assert.Contains(t, texts(d.Notes), "inverts without a level, which are unknown: 1")
	refusals(t, map[string][2]string{
		"nan":     {file(strings.Replace(network("", "", circular), `elev="1.9"`, `elev="nan"`, 1)), `elev: "nan" is not a number`},
		"INF":     {file(strings.Replace(network("", "", circular), `elevRim="4"`, `elevRim="INF"`, 1)), `elevRim: "INF" is not a number`},
		"comma":   {file(strings.Replace(network("", "", circular), `"2.345"`, `"2,345"`, 1)), `elev: "2,345" is not a number`},
		"centre":  {file(strings.Replace(network("", "", circular), `100 210 7`, `§100`, 1)), "structure B: 1 number where northing and easting are wanted"},
		"centre4": {file(strings.Replace(network("", "", circular), `100 210 7`, `§1 2 3 4`, 1)), "structure B: 4 numbers or more where"},
		"centreX": {file(strings.Replace(network("", "", circular), `100 210 7`, `§NaN 5`, 1)), `structure B: "NaN" is not a coordinate`},
	})
}

// An absent invert is unknown, never the sump; a flow that is none is not used.
func TestInverts(t *testing.T) {
	d := read(t, file(strings.Replace(network("", "", circular), `<Invert elev="2.345" flowDir="out" refPipe="P"/>`, `<Invert flowDir=" OUT " refPipe="P"/><Invert elev="3" flowDir="up" refPipe="Q"/>`, 1)))
	in := d.Networks[0].Structures[0].Inverts
	require.Len(t, in, 2)
	assert.False(t, in[0].Elev.Set)
	assert.Equal(t, "out", in[0].Flow)
	assert.Equal(t, "", in[1].Flow)
	assert.Contains(t, texts(d.Notes), `flowDir: "up" is none of in, out and both, and is not used`)
}

// A structure may stand on a named point; its own coordinates hold before that.
func TestCentreOnAPoint(t *testing.T) {
	net := network("", "", circular)
	for centre, want := range map[string]string{`<Center pntRef="C"/>`: "30 20", `<Center pntRef="C">1 2</Center>`: "2 1", `<Center pntRef="D"/>`: "30 20", `<Center/>`: "0 0"} {
		d := read(t, file(strings.Replace(net, "<Center>100 200</Center>", centre, 1)+points(`<CgPoint name="C">20 30</CgPoint><CgPoint name="D" pntRef="C"/>`)))
		s := d.Networks[0].Structures[0]
		assert.Equal(t, want, s.E.String()+" "+s.N.String())
		assert.Equal(t, want != "0 0", s.Placed)
	}
	refusals(t, map[string][2]string{
		"no such point": {file(strings.Replace(net, "<Center>100 200</Center>", `<Center pntRef="C"/>`, 1)), `structure  A: it refers to point "C", which is not in the file`},
	})
}

// A curved pipe keeps the centre of its arc, and is named.
func TestCurvedPipes(t *testing.T) {
	d := read(t, file(network("", "", circular+"<Center>105 190</Center>")))
	assert.Equal(t, "105 190", at(d.Networks[0].Pipes[0].Centre))
	assert.Contains(t, texts(d.Notes), "network N 1: pipes that are curved in plan (Center), longer than from structure to structure: 1")
	refusals(t, map[string][2]string{
		"one number": {file(network("", "", circular+"<Center>§105</Center>")), "pipe P: <Center> has 1 number where northing and easting are wanted"},
		"by name":    {file(network("", "", circular+`§<Center pntRef="C"/>`)), "pipe P: the centre of its arc is that of another point (pntRef)"},
	})
}
