// Package all lists the formats.
package all

import (
	"bytes"
	"fmt"
	"strings"

	"sightrail/formats"
	"sightrail/formats/csvfile"
	"sightrail/formats/geojson"
	"sightrail/formats/landxml"
	"sightrail/formats/xlsx"
)

// Formats are tried in this order: those that know their files by content
// first.
var Formats = []*formats.Format{xlsx.Format, landxml.Format, geojson.Format, csvfile.Format}

// HeadBytes is how much of a file Find wants to see.
const HeadBytes = 4096

// Find finds the format of a file by its name and its first bytes. The error
// says what the file seems to be and what to do.
func Find(name string, head []byte) (*formats.Format, error) {
	for _, f := range Formats {
		if f.Sniff(name, head) {
			return f, nil
		}
	}
	switch {
	case len(head) == 0:
		return nil, fmt.Errorf("the file is empty")
	case bytes.HasPrefix(head, []byte{0xD0, 0xCF, 0x11, 0xE0}):
		return nil, fmt.Errorf("this is a workbook of the old kind (.xls), or one with a password; save it as .xlsx or as CSV")
	case bytes.HasPrefix(head, []byte("%PDF")):
		return nil, fmt.Errorf("this is a PDF; numbers are not read from one: ask for the table as CSV or as a workbook")
	case bytes.HasPrefix(head, []byte("PK\x03\x04")):
		return nil, fmt.Errorf("this is a zip file and no workbook; unpack it first")
	}
	return nil, fmt.Errorf("this is none of the formats that are read (%s)", strings.Join(Names(), ", "))
}

// ByName finds the format to write a file of that name in.
func ByName(name string) (*formats.Format, error) {
	for _, f := range Formats {
		for _, x := range f.Extensions {
			if strings.HasSuffix(strings.ToLower(name), x) {
				return f, nil
			}
		}
	}
	return nil, fmt.Errorf("the ending of %q is that of no format that is written; use one of %s", name, strings.Join(Extensions(), " "))
}

// Names lists the titles of the formats.
func Names() []string {
	var out []string
	for _, f := range Formats {
		out = append(out, f.Title)
	}
	return out
}

// Extensions lists the endings of all formats.
func Extensions() []string {
	var out []string
	for _, f := range Formats {
		out = append(out, f.Extensions...)
	}
	return out
}
