package checks_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats"
	"sightrail/formats/fixture"
	"sightrail/formats/landxml"
	"sightrail/formats/unit"
	"sightrail/qa"
)

const pipesJob = `project: p
units: m
grid: local site
heightDatum: site
surveys:
  - {file: shots.csv, kind: points, unit: m, staffed: invert}
designs:
  - {name: drain, file: %s, invertsAt: centre%s}
checks:
  - pipe: {name: inverts, element: e, design: drain, tolerance: {lower: -20 mm, upper: 20 mm, source: s}}
  - pipeLine: {name: line, element: e, design: drain, tolerance: {lower: -50 mm, upper: 50 mm, source: s}}
  - pits: {name: pits, element: e, design: drain, place: 100 mm, placeSource: s}
`

// told are the rows of a run without the names of the design file.
func told(res *qa.Result) (out []string) {
	for i := range res.Rows {
		r := &res.Rows[i]
		out = append(out, fmt.Sprint(r.Check, " ", r.Shot.ID, " ", finding(r), " ", r.Pipe, " ", r.Along.Exact(unit.M, 3), " ", r.DesignAt))
	}
	return out
}

// Networks of real files as they are, and as tables of pipes with their pits in the
// rows or in a list of their own, give the same results row by row.
func TestNetworkAsATable(t *testing.T) {
	const file = "d08_storm_pipes_circ.xml"
	raw, err := os.ReadFile(fixture.Shared(t, "landxml", "files", file))
	require.NoError(t, err)
	d, err := landxml.Format.Decode(strings.NewReader(string(raw)), file, formats.Options{})
	require.NoError(t, err)
	u := d.Units.Linear
	for k := range d.Networks {
		n := &d.Networks[k]
		at := map[string]*formats.Structure{}
		for i := range n.Structures {
			at[n.Structures[i].Name] = &n.Structures[i]
		}
		invert := func(pit, pipe string) string {
			for _, in := range at[pit].Inverts {
				if in.Pipe == pipe {
					return in.Elev.Value.String()
				}
			}
			return ""
		}
		head := fmt.Sprintf("Pipe,US pit,DS pit,DN (mm),US invert (%[1]s),DS invert (%[1]s)", u.Name)
		places := fmt.Sprintf(",US easting (%[1]s),US northing (%[1]s),DS easting (%[1]s),DS northing (%[1]s)", u.Name)
		var alone, whole, pits, shots strings.Builder
		fmt.Fprintln(&alone, head)
		fmt.Fprintln(&whole, head+places)
		fmt.Fprintf(&pits, "Name,Easting (%[1]s),Northing (%[1]s)\n", u.Name)
		fmt.Fprintln(&shots, "Point,Easting,Northing,Level")
		for i := range n.Structures {
			s := &n.Structures[i]
			fmt.Fprintf(&pits, "%s,%s,%s\n", s.Name, s.E, s.N)
			fmt.Fprintf(&shots, "%s,%s,%s,%s\n", s.Name, s.E, s.N, "12.345")
		}
		pipes := 0
		for i := range n.Pipes {
			p := &n.Pipes[i]
			a, b := invert(p.Start, p.Name), invert(p.End, p.Name)
			if a == "" || b == "" {
				continue
			}
			bore := "300"
			line := fmt.Sprintf("%s,%s,%s,%s,%s,%s", p.Name, p.Start, p.End, bore, a, b)
			fmt.Fprintln(&alone, line)
			fmt.Fprintf(&whole, "%s,%s,%s,%s,%s\n", line, at[p.Start].E, at[p.Start].N, at[p.End].E, at[p.End].N)
			pipes++
		}
		require.NotZero(t, pipes)
		job := func(design, more string) string {
			return strings.Replace(strings.Replace(fmt.Sprintf(pipesJob, design, more), "units: m", "units: "+u.Name, 1), "unit: m,", "unit: "+u.Name+",", 1)
		}
		first := runShots(t, job("pipes.csv", ", table: pipes, pits: pits.csv"), map[string]string{"pipes.csv": alone.String(), "pits.csv": pits.String(), "shots.csv": shots.String()})
		second := runShots(t, job("pipes.csv", ", table: pipes"), map[string]string{"pipes.csv": whole.String(), "shots.csv": shots.String()})
		third := runShots(t, job(file, ", pipeSizeUnit: mm, network: "+fmt.Sprintf("%q", n.Name)), map[string]string{file: string(raw), "shots.csv": shots.String()})
		require.Greater(t, len(first.Rows), pipes)
		assert.Equal(t, told(first), told(second), n.Name)
		assert.Equal(t, told(third), told(first), n.Name)
	}
}

// What a table of pipes lacks or contradicts is told with its cell, and nothing is
// judged on it.
func TestTableOfPipesThatCannotBe(t *testing.T) {
	head := "Pipe,From,To,DN (mm),US invert (m),DS invert (m),US easting,US northing,DS easting,DS northing\n"
	row := "P1,A,B,300,10.0,9.9,0,0,30,0\n"
	shots := "Point,Easting,Northing,Level\nA,0,0,10\n"
	for _, x := range []struct{ pipes, want string }{
		{"Pipe,From,To\nP1,A,B\n", "a table of pipes needs the headings pipe, from, to, invert from and invert to"},
		{strings.Replace(head, "DN (mm)", "DN", 1) + row, "pipes.csv:1:4: DN: the heading names no unit for the sizes of pipes"},
		{strings.ReplaceAll(head, " (m)", "") + row, "does not say its unit of length"},
		{head + "P1,A,,300,10.0,9.9,0,0,30,0\n", "pipes.csv:2:3: to: the row has no pit that it runs to"},
		{head + "P1,A,B,300,10.0,,0,0,30,0\n", "pipes.csv:2:6: invert to: the row has no invert at B"},
		{head + "P1,A,B,300,1O.0,9.9,0,0,30,0\n", "letter that looks like a digit"},
		{head + row + "P2,B,C,300,9.9,9.8,31,0,60,0\n", "pipes.csv:3:7: easting from: B has another place here (31, 0) than in a row above (30, 0)"},
		{head + "P1,A,B,300,10.0,9.9,0,,30,0\n", "the row has one of easting and northing of A"},
		{head + row + row, "two pipes of the network have this name"},
		{head, "there is no pipe below the headings"},
		{head + "P1,A,B,300,10.0,10.0,0,0,30,0\n", "its two design inverts are equal; say in the job which pit it flows to"},
		{strings.Replace(head, "DS invert (m)", "DS invert (ft)", 1) + row, "this column is in ft and another one in m"},
	} {
		res := runShots(t, fmt.Sprintf(pipesJob, "pipes.csv", ", table: pipes"), map[string]string{"pipes.csv": x.pipes, "shots.csv": shots})
		var texts []string
		for _, p := range res.Problems {
			texts = append(texts, p.String())
		}
		assert.Contains(t, strings.Join(texts, "\n"), x.want)
		assert.Equal(t, 2, res.ExitCode(), x.want)
	}
	// pits that the headings call upstream and downstream against the inverts
	res := runShots(t, fmt.Sprintf(pipesJob, "pipes.csv", ", table: pipes"), map[string]string{"pipes.csv": strings.Replace(strings.Replace(head, "From,To", "US pit,DS pit", 1)+row, "10.0,9.9", "9.9,10.0", 1), "shots.csv": shots})
	var notes []string
	for _, n := range res.Notes {
		notes = append(notes, n.Text)
	}
	assert.Contains(t, strings.Join(notes, "\n"), "by its inverts it falls from B")
	res = runShots(t, fmt.Sprintf(pipesJob, "pipes.csv", ", table: pipes"), map[string]string{"pipes.csv": head + strings.Replace(row, ",300,", ",0,", 1), "shots.csv": shots})
	assert.Contains(t, fmt.Sprint(res.Problems), "a size of 0 is none")
	// a pit that only the list places elsewhere, and one that nothing places
	res = runShots(t, fmt.Sprintf(pipesJob, "pipes.csv", ", table: pipes, pits: pits.csv"), map[string]string{"pipes.csv": head + row, "pits.csv": "Name,Easting (m),Northing (m)\nA,1,0\n", "shots.csv": shots})
	assert.Contains(t, res.Problems[0].Text, "it has another place here (1, 0) than in pipes.csv:2:2 (0, 0)")
	res = runShots(t, fmt.Sprintf(pipesJob, "pipes.csv", ", table: pipes, pits: pits.csv"), map[string]string{"pipes.csv": "Pipe,From,To,US invert (m),DS invert (m)\nP1,A,B,10.0,9.9\n", "pits.csv": "Name,Easting (m),Northing (m)\nA,1,0\n", "shots.csv": shots})
	assert.Contains(t, res.Problems[0].Text, "pit \"B\" has no place")
}

// The trade's headings of a table of pipes.
func TestHeadingsOfPipes(t *testing.T) {
	for _, head := range []string{"Pipe,US pit,DS pit,Diameter (mm),US IL (m),DS IL (m),E US,N US,E DS,N DS", "Line;Start node;End node;Size (mm);Upstream invert (m);Downstream invert (m);Easting from;Northing from;Easting to;Northing to",
		"ID,Upstream MH,Downstream MH,Bore (mm),Invert level US (m),Invert level DS (m),US east,US north,DS east,DS north"} {
		row := "P1,A,B,300,10.0,9.9,0,0,30,0\n"
		if strings.Contains(head, ";") {
			row = strings.ReplaceAll(row, ",", ";")
		}
		res := runShots(t, fmt.Sprintf(pipesJob, "pipes.csv", ", table: pipes"), map[string]string{"pipes.csv": head + "\n" + row, "shots.csv": "Point,Easting,Northing,Level\nA,0,0,10\n"})
		require.Empty(t, res.Problems, head)
		assert.Equal(t, "pass", res.Rows[0].Verdict.String(), head+res.Rows[0].Reason)
	}
	_, err := os.Stat(filepath.Join("testdata", "books", "pipe-table"))
	require.NoError(t, err)
}
