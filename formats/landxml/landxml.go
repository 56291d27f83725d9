// Package landxml reads LandXML 1.0 to 2.0 and writes 1.2: points, surfaces with
// their breaklines and boundaries, alignments with their profiles and cross
// sections, and pipe networks.
//
// Elements are matched by local name. Units are looked for in the whole file
// before anything is interpreted; without them, and without a declared unit,
// the file is refused. Faces marked invisible are kept and marked. Directions
// in the file are never used: files disagree on what they count from. An absent
// invert stays absent: a sump is not an invert. Names of persons in the file
// are not read. What is not read at all is named in a note, but for extensions
// (Feature) and for what follows from other numbers: directions, angles of
// turn, chords, tangents, areas and volumes.
package landxml

import (
	"bytes"
	"strings"

	"sightrail/formats"
)

// Format is the LandXML format.
var Format = &formats.Format{
	Name:       "landxml",
	Title:      "LandXML",
	Extensions: []string{".xml", ".landxml"},
	Sniff:      sniff,
	Decode:     Decode,
	Encode:     Encode,
	Holds:      []formats.Kind{formats.Points, formats.Attributes, formats.Surfaces, formats.SourceLines, formats.Alignments, formats.Networks, formats.CRSName, formats.UnitName},
}

// sniff looks for the root element, or for any XML in a file whose ending says
// LandXML: Decode can say better what is wrong with it. In UTF-16 every second
// byte is zero.
func sniff(name string, head []byte) bool {
	plain := bytes.ReplaceAll(head, []byte{0}, nil)
	for _, mark := range []string{"\xef\xbb\xbf", "\xff\xfe", "\xfe\xff"} {
		plain = bytes.TrimPrefix(plain, []byte(mark))
	}
	plain = trim(plain)
	if !bytes.HasPrefix(plain, []byte("<")) {
		return false
	}
	low := strings.ToLower(name)
	for _, x := range []string{".xml", ".landxml"} {
		if strings.HasSuffix(low, x) {
			return true
		}
	}
	return bytes.Contains(plain, []byte("<LandXML")) || bytes.Contains(plain, []byte(":LandXML"))
}
