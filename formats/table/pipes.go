package table

import (
	"fmt"
	"path"
	"strings"

	"sightrail/formats"
)

// Roles of the columns of a table of pipes.
const (
	PipeName, From, To         = "pipe", "from", "to"
	FromInvert, ToInvert       = "invert from", "invert to"
	FromEasting, FromNorthing  = "easting from", "northing from"
	ToEasting, ToNorthing      = "easting to", "northing to"
	FromRim, ToRim             = "rim from", "rim to"
	Bore, Wall, Material, Form = "bore", "wall", "material", "shape"
)

// pipeWords are the trade's headings of a table of pipes, as spellings has those of
// books and points. From common practice, no published source.
var pipeWords = pipeDictionary()

func pipeDictionary() map[string]string {
	m := map[string]string{}
	add := func(role, list string) {
		for _, w := range strings.Fields(list) {
			m[w] = role
		}
	}
	add(PipeName, "pipe pipename pipeno pipenumber pipeid line lineno name id no run")
	add(Bore, "bore dn diameter dia size pipesize pipediameter insidediameter internaldiameter nominaldiameter nominalbore nominalsize")
	add(Wall, "wall wallthickness pipewall")
	add(Material, "material class pipematerial")
	add(Form, "shape form")
	// "From", "US pit", "Upstream MH", "Start node"
	ends := []struct{ roles, words string }{
		{From + "|" + FromInvert + "|" + FromEasting + "|" + FromNorthing + "|" + FromRim, "from us upstream start up"},
		{To + "|" + ToInvert + "|" + ToEasting + "|" + ToNorthing + "|" + ToRim, "to ds downstream end down"},
	}
	kinds := []string{
		"pit manhole mh node structure chamber pitname pitno nodename manholeno", // the end itself
		"invert il inv invertlevel inverts invertrl invertelevation invlevel",
		"easting eastings e east",
		"northing northings n north",
		"rim cover cl gl fsl coverlevel rimlevel lidlevel surfacelevel cvl rl",
	}
	for _, end := range ends {
		roles := strings.Split(end.roles, "|")
		for _, w := range strings.Fields(end.words) {
			if w != "up" && w != "down" {
				m[w] = roles[0]
			}
			for i, list := range kinds {
				for _, k := range strings.Fields(list) {
					m[w+k], m[k+w] = roles[i], roles[i]
				}
			}
		}
	}
	return m
}

// pipes reports whether the columns list pipes.
func (h *heading) pipes() bool {
	return h.has(PipeName) && h.has(From) && h.has(To) && h.has(FromInvert) && h.has(ToInvert)
}

// pipeUnits finds the unit of levels and places, and the one of sizes.
func (b *Builder) pipeUnits() {
	h, pos := &b.h, b.h.pos
	h.unit = b.unitOf(pos, FromInvert, ToInvert, FromEasting, FromNorthing, ToEasting, ToNorthing, FromRim, ToRim)
	h.distance = b.unitOf(pos, Bore, Wall)
	if h.unit.Known() && b.opt.Unit.Known() && h.unit != b.opt.Unit {
		b.refuse(pos, "unit", "the headings say %s, and %s is declared for the file; one of them is wrong", h.unit.Name, b.opt.Unit.Name)
		b.refused = true
	}
	if h.distance.Known() && b.opt.DimUnit.Known() && h.distance != b.opt.DimUnit {
		b.refuse(pos, "pipeSizeUnit", "the headings say %s for the sizes, and %s is declared; one of them is wrong", h.distance.Name, b.opt.DimUnit.Name)
		b.refused = true
	}
	h.unit, h.distance = orUnit(h.unit, b.opt.Unit), orUnit(h.distance, b.opt.DimUnit)
}

// pipeBuilder makes a network of the rows of a table.
type pipeBuilder struct {
	net formats.Network
	pit map[string]int
}

func (b *Builder) openPipes() {
	name := b.at.Part
	if name == "" {
		name = strings.TrimSuffix(path.Base(strings.ReplaceAll(b.at.File, `\`, "/")), path.Ext(b.at.File))
	}
	b.pipes = &pipeBuilder{net: formats.Network{Name: name, Pos: b.h.pos}, pit: map[string]int{}}
	if b.h.unit.Known() {
		b.doc.Units.Linear = b.h.unit
	}
	if i := b.h.at(Bore); i >= 0 {
		b.note(b.h.pos.At(b.h.pos.Row, i+1), b.h.columns[i].Heading, "the sizes of pipes are taken as inside diameters")
	}
	for _, r := range []string{Bore, Wall} {
		if i := b.h.at(r); i >= 0 && !b.h.distance.Known() {
			b.refuse(b.h.pos.At(b.h.pos.Row, i+1), b.h.columns[i].Heading, "the heading names no unit for the sizes of pipes; write it, such as \"DN (mm)\", or declare \"pipeSizeUnit: mm\"")
			b.refused = true
			return
		}
	}
}

// pipeRow reads one pipe. A row that cannot be read is a problem, and no pipe.
func (b *Builder) pipeRow(row int, cells []Cell) {
	r := rowReader{b: b, row: row, cells: cells}
	r.fault()
	h, k := &b.h, b.pipes
	p := formats.Pipe{Name: r.text(h.at(PipeName), PipeName, true), Pos: b.at.At(row, h.at(PipeName)+1), Start: r.text(h.at(From), From, true), End: r.text(h.at(To), To, true),
		Material: r.text(h.at(Material), Material, false), Shape: strings.ToLower(r.text(h.at(Form), Form, false)), DimUnit: h.distance}
	if blankRow(cells) {
		return
	}
	for _, x := range []struct{ role, text string }{{PipeName, p.Name}, {From, p.Start}, {To, p.End}} {
		if x.text == "" && r.bad == "" {
			r.refuse(h.at(x.role)+1, x.role, "the row has no %s, and a pipe needs its name and both of its pits", map[string]string{PipeName: "name", From: "pit that it runs from", To: "pit that it runs to"}[x.role])
		}
	}
	if p.Bore = r.reading(Bore); p.Bore.Set && p.Shape == "" {
		p.Shape = "circular"
	}
	if p.Bore.Set && p.Bore.Value.Coef <= 0 {
		r.refuse(p.Bore.Col, Bore, "a size of %s is none; leave the cell blank where it is not known", p.Bore.Value)
	}
	p.Wall = r.reading(Wall)
	ends := []struct{ pit, invert, e, n, rim string }{{p.Start, FromInvert, FromEasting, FromNorthing, FromRim}, {p.End, ToInvert, ToEasting, ToNorthing, ToRim}}
	var inverts [2]formats.Reading
	for i, x := range ends {
		if inverts[i] = r.reading(x.invert); !inverts[i].Set && r.bad == "" {
			r.refuse(h.at(x.invert)+1, x.invert, "the row has no invert at %s, and nothing can be judged on a pipe without it", x.pit)
		}
	}
	if r.bad != "" {
		return
	}
	flow := [2]string{}
	if b.flows() { // headings such as "US pit" say how it runs; the inverts decide, and a note names what contradicts them
		flow = [2]string{"out", "in"}
	}
	for i, x := range ends {
		s := k.structure(x.pit, b.at.At(row, h.at([]string{From, To}[i])+1))
		e, hasE := r.decimal(h.at(x.e), x.e)
		n, hasN := r.decimal(h.at(x.n), x.n)
		switch {
		case hasE != hasN:
			r.refuse(max(h.at(x.e), h.at(x.n))+1, x.e, "the row has one of easting and northing of %s; it needs both, or neither", x.pit)
		case hasE && s.Placed && (s.E != e || s.N != n):
			r.refuse(h.at(x.e)+1, x.e, "%s has another place here (%s, %s) than in a row above (%s, %s)", x.pit, e, n, s.E, s.N)
		case hasE:
			s.E, s.N, s.Placed = e, n, true
		}
		if rim := r.reading(x.rim); rim.Set {
			if s.Rim.Set && s.Rim.Value != rim.Value {
				r.refuse(rim.Col, x.rim, "%s has another rim level here (%s) than in a row above (%s)", x.pit, rim.Value, s.Rim.Value)
			}
			s.Rim = rim
		}
		s.Inverts = append(s.Inverts, formats.Invert{Pos: b.at.At(row, inverts[i].Col), Elev: inverts[i], Flow: flow[i], Pipe: p.Name})
	}
	k.net.Pipes = append(k.net.Pipes, p)
}

// flows reports whether the headings of the pits say how a pipe runs: upstream and
// downstream, not only from and to.
func (b *Builder) flows() bool {
	for _, role := range []string{From, To} {
		t := plainWord(strings.ToLower(b.h.columns[b.h.at(role)].Heading))
		if !strings.Contains(t, "us") && !strings.Contains(t, "ds") && !strings.Contains(t, "stream") {
			return false
		}
	}
	return true
}

// structure is the pit of a name.
func (k *pipeBuilder) structure(name string, at formats.Pos) *formats.Structure {
	i, there := k.pit[name]
	if !there {
		i = len(k.net.Structures)
		k.pit[name] = i
		k.net.Structures = append(k.net.Structures, formats.Structure{Name: name, Pos: at})
	}
	return &k.net.Structures[i]
}

func (b *Builder) closePipes() {
	if len(b.pipes.net.Pipes) == 0 {
		b.refuse(b.h.pos, "", "there is no pipe below the headings that can be read")
		return
	}
	b.doc.Networks = append(b.doc.Networks, b.pipes.net)
}

// pipesWanted is what a table of pipes must have, for messages.
var pipesWanted = fmt.Sprintf("a table of pipes needs the headings %s, %s, %s, %s and %s, such as \"Pipe, US pit, DS pit, US invert (m), DS invert (m)\"", PipeName, From, To, FromInvert, ToInvert)
