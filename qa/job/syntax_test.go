package job

import (
	"errors"
	"reflect"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats"
)

func TestWhatIsNotYAML(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"tab", "people:\n▸\tobserver: A\n", "a tab stands where spaces are asked for; indent with spaces"},
		{"colon in a value", "project: ▸Depot: stage 2\n", "a second colon, or keys below a key that already has a value; put a value with a colon and a space in it in quotes, or correct the indentation"},
		{"keys below a value", "people: ▸A. Chan\n  observer: A\n", "a second colon, or keys below a key that already has a value; put a value with a colon and a space in it in quotes, or correct the indentation"},
		{"open list", "designs: ▸[a, b\n", `the list that begins here is not closed; add "]"`},
		{"open group", "people: ▸{observer: A\n", `the group that begins here is not closed; add "}"`},
		{"list closed without opening", "lot: ▸]\n", `"]" without a "[" before it; take it out, or put the value in quotes`},
		{"open double quote", "lot: ▸\"5\n", `the text that begins here has no closing quote; add "`},
		{"open single quote", "lot: ▸'5\n", "the text that begins here has no closing quote; add '"},
		{"at sign", "lot: ▸@5\n", "a value cannot begin with this sign; put it in quotes"},
		{"list on the line of its key", "designs: ▸- a\n", "a list begins on the line of its key; begin it on the next line, or write it in square brackets: [A, B]"},
		{"no space after the colon", "▸project:Depot\nlot: 5\n", "this is not a key with its value; write a colon and a space between the two"},
		{"text after a quote", "lot: '5' ▸A\n", "something stands after the closing quote; put all of the value inside the quotes"},
		{"wrong indentation", "people:\n  observer: A\n ▸booker: B\n", "this line fits no key above it; correct its indentation"},
		{"backslash", "lot: \"5\\▸q\"\n", "a backslash in double quotes has a meaning of its own; use single quotes"},
		{"star", "codes: [▸*]\n", "a value that begins with * must be in quotes; YAML takes the sign for something that a job file does not use"},
		{"star and letters", "codes: [▸*X]\n", "a value that begins with * must be in quotes; YAML takes the sign for something that a job file does not use"},
		{"anchor", "lot: ▸&a 5\n", "a value that begins with & must be in quotes; YAML takes the sign for something that a job file does not use"},
		{"type", "lot: ▸!!str 5\n", "a value that begins with !!str must be in quotes; YAML takes the sign for something that a job file does not use"},
		{"merge", "▸<<: {lot: 5}\n", "a value that begins with << must be in quotes; YAML takes the sign for something that a job file does not use"},
		{"second document", "lot: 5\n---\n▸lot: 6\n", `a second document begins here; a job file holds one, without "---" between`},
		{"a remark that was meant as text", "element: Pit ▸#4\n", `"#4" would be taken for a remark and lost; put the whole value in quotes, or write "# " with a space before a remark`},
		{"empty", "▸", `the file is empty; a job begins with "project:" and the name of the project`},
		{"only a remark", "▸# job\n", `the file is empty; a job begins with "project:" and the name of the project`},
		{"a word", "▸job\n", `here is "job" where keys with values are asked for: ` + strings.Join(keysOf(reflect.TypeFor[Job]()), ", ")},
		{"not UTF-8", "project: Stra▸\xdfe\n", "the line has a character that is not UTF-8; save the file as UTF-8"},
		{"not UTF-8 behind other letters", "project: Übungsstra▸\xdfe\n", "the line has a character that is not UTF-8; save the file as UTF-8"},
		{"control character", "project: a▸\x00b\n", "the line has a control character; take it out"},
		{"brackets", "lot: " + strings.Repeat("[", MaxDepth) + "▸[", "more than 64 brackets inside each other; a job file needs a few"},
	} {
		t.Run(c.name, func(t *testing.T) {
			text, at := unmark(c.text)
			require.Len(t, at, 1)
			_, err := Load("job.yaml", []byte(text), testKinds)
			var list formats.ErrorList
			require.True(t, errors.As(err, &list), "%v", err)
			require.Len(t, list, 1)
			line, shown, _ := strings.Cut(list[0].Text, "\n")
			assert.Equal(t, c.want, line)
			assert.Equal(t, at[0], list[0].Pos)
			assert.Contains(t, shown, "^")
		})
	}
}

func TestRemarksAreFree(t *testing.T) {
	text := strings.Replace(small, "units: m\n", "units: m # as drawn\n#no space at the start of a line\nlot: 'Pit #4' #- a rule\nclient: a#b\n", 1)
	j, err := Load("job.yaml", []byte(text), testKinds)
	require.NoError(t, err)
	assert.Equal(t, "Pit #4", j.Lot)
	assert.Equal(t, "a#b", j.Client)
}

func TestTextsOfSeveralLines(t *testing.T) {
	text := strings.Replace(small, "units: m\n", "units: m\nclause: |\n  clause 3\n  table 1\nclient: >\n  River\n  Council\n", 1)
	j, err := Load("job.yaml", []byte(text), testKinds)
	require.NoError(t, err)
	assert.Equal(t, "clause 3\ntable 1", j.Clause)
	assert.Equal(t, "River Council", j.Client)
}

func TestWholeFileRefused(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"UTF-16", "\xff\xfep\x00", "job.yaml: the file is encoded in UTF-16; save it as UTF-8"},
		{"too large", "#" + strings.Repeat(" ", MaxBytes), "job.yaml: the file has 1048577 bytes, more than the 1048576 a job file may have; is it the job file?"},
		{"too long", strings.Repeat("\n", MaxLines), "job.yaml: the file has 20001 lines, more than the 20000 a job file may have; is it the job file?"},
	} {
		_, err := Load("job.yaml", []byte(c.text), testKinds)
		require.Error(t, err, c.name)
		assert.Equal(t, c.want, err.Error())
	}
	_, err := Load("job.yaml", []byte("a: "+strings.Repeat("- ", 200)), testKinds)
	require.ErrorContains(t, err, "more than 64 lists inside each other; a job file needs a few")
}

// One message as a user sees it.
func TestWholeMessage(t *testing.T) {
	_, err := Load("depot/job.yaml", []byte(strings.Replace(small, "units: m", "units: feet", 1)), testKinds)
	require.Error(t, err)
	assert.Equal(t, `depot/job.yaml:2:8: units: "feet" does not say which foot; write "ft" for the international foot (0.3048 m) or "ftUS" for the US survey foot (1200/3937 m)
   2 | units: feet
     |        ^`, err.Error())
}

// Whatever the file holds, Load says no with places inside the file or gives a
// job; it neither stops the program nor gives half a job.
func FuzzLoad(f *testing.F) {
	f.Add(small)
	f.Add(sample(f))
	f.Add("a: [1, {b: *c}]\n---\n? x\n: !!y z\n")
	f.Add("checks:\n- level: {shots: {polygon: {corners: [[1 m, 2 m]]}}}\n")
	f.Fuzz(func(t *testing.T, text string) {
		j, err := Load("job.yaml", []byte(text), testKinds)
		if (j == nil) != (err != nil) {
			t.Fatal("neither a job nor an error")
		}
		var list formats.ErrorList
		if err != nil && (!errors.As(err, &list) || len(list) == 0) {
			t.Fatalf("an error without a list: %v", err)
		}
		lines := strings.Count(text, "\n") + 1
		for _, p := range list {
			if p.Pos.File != "job.yaml" || p.Pos.Row < 0 || p.Pos.Row > lines || p.Text == "" {
				t.Fatalf("%+v", p)
			}
		}
	})
}
