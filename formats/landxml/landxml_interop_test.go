//go:build interop

package landxml

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats"
	"sightrail/formats/fixture"
	"sightrail/formats/unit"
)

// The outside witness is libxml2's xmllint with the published LandXML 1.2
// schema of 2008-07-29.
func xmllint(t testing.TB, arg ...string) (string, error) {
	program, err := exec.LookPath("xmllint")
	require.NoError(t, err, "xmllint (libxml2-utils) is needed for this test")
	out, err := exec.Command(program, arg...).CombinedOutput()
	return string(out), err
}

func schema(t testing.TB) string { return fixture.Shared(t, "landxml", "xsd", "LandXML-1.2.xsd") }

func TestRealFilesAreWrittenValid(t *testing.T) {
	dir := t.TempDir()
	args := []string{"--noout", "--schema", schema(t)}
	for _, path := range realFiles(t) {
		d := decodeFile(t, path)
		if len(d.Problems) == 0 {
			name := filepath.Join(dir, filepath.Base(path))
			require.NoError(t, os.WriteFile(name, encoded(t, d), 0o600))
			args = append(args, name)
		}
	}
	require.Greater(t, len(args), 15)
	out, err := xmllint(t, args...)
	assert.NoError(t, err, out)
}

func TestRandomDocumentsAreWrittenValid(t *testing.T) {
	dir := t.TempDir()
	args := []string{"--noout", "--schema", schema(t)}
	rapid.Check(t, func(r *rapid.T) {
		d := anyDocument(r)
		name := filepath.Join(dir, fmt.Sprintf("%d.xml", len(args)))
		require.NoError(r, os.WriteFile(name, encoded(r, d), 0o600))
		args = append(args, name)
	})
	out, err := xmllint(t, args...)
	assert.NoError(t, err, out)
}

// The check can fail: a file that breaks the schema is found.
func TestXmllintFindsAFault(t *testing.T) {
	name := filepath.Join(t.TempDir(), "bad.xml")
	text := bytes.Replace(encoded(t, &formats.Document{Units: formats.Units{Linear: unit.M}}), []byte(`linearUnit="meter"`), []byte(`linearUnit="cubit"`), 1)
	require.NoError(t, os.WriteFile(name, text, 0o600))
	_, err := xmllint(t, "--noout", "--schema", schema(t), name)
	assert.Error(t, err)
}

// Texts that are not well-formed for one are not for the other.
func TestBrokenXMLAgreesWithXmllint(t *testing.T) {
	dir := t.TempDir()
	for i, text := range []string{
		file(""), file(points(`<CgPoint name="&#x41;&amp;">1 2 3</CgPoint>`)), "\xef\xbb\xbf" + file(""), `<?xml version="1.0" encoding="ISO-8859-1"?>` + file(points("<CgPoint name=\"\xe4\"/>")),
		root, file("") + file(""), file("") + "x", file("<Surfaces></Surface>"), file(`<Project name="A" name="B"/>`), file(`<Project name=A/>`), file(`<Project name="A"desc="B"/>`),
		file(`<Project name="&nbsp;"/>`), file(`<Project name="&#0;"/>`), file(`<Project name="A & B"/>`), file(`<Project name="<"/>`), file("<Project name=\"\x07\"/>"), file("<Project name=\"\xe4\"/>"),
		file("<Project name/>"), file("< >"), "", "northing,easting", file("<!-- "), file("<![CDATA["), file(surface(`<P id="1">0 0`, "")),
	} {
		name := filepath.Join(dir, "t.xml")
		require.NoError(t, os.WriteFile(name, []byte(text), 0o600))
		_, lint := xmllint(t, "--noout", name)
		d := decodeText(t, text, formats.Options{})
		assert.Equal(t, lint != nil, len(d.Problems) > 0, "text %d: %s %v", i, text, d.Problems)
	}
}
