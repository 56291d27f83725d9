// Package geojson reads and writes points, lines and polygons as GeoJSON: a
// FeatureCollection, or features a line (with or without record separators).
//
// Coordinates are decimals as written. With the crs member of the 2008 GeoJSON
// they are easting and northing of that grid; without it they are longitude and
// latitude by RFC 7946, which give no place on a grid: such points need easting
// and northing among their properties. A third coordinate is a height above the
// ellipsoid by RFC 7946 and is never taken as level where the file has no
// projected crs. The unit is that of a member "unit" of the collection, or the
// declared one.
package geojson

import (
	"bytes"
	"strings"

	"sightrail/formats"
)

// Format is the GeoJSON format.
var Format = &formats.Format{
	Name:       "geojson",
	Title:      "GeoJSON",
	Extensions: extensions,
	Sniff:      sniff,
	Decode:     Decode,
	Encode:     Encode,
	Holds:      []formats.Kind{formats.Points, formats.Attributes, formats.PointExtras, formats.Polygons, formats.PlanLines, formats.CRSName, formats.UnitName},
}

var extensions = []string{".geojson", ".json", ".geojsonl", ".geojsons", ".ndjson"}

// sniff takes a JSON object in a file of a fitting name.
func sniff(name string, head []byte) bool {
	h := bytes.TrimLeft(bytes.TrimPrefix(head, []byte{0xEF, 0xBB, 0xBF}), " \t\r\n\x1e")
	if len(h) == 0 || h[0] != '{' {
		return false
	}
	for _, x := range extensions {
		if strings.HasSuffix(strings.ToLower(name), x) {
			return true
		}
	}
	return bytes.Contains(h, []byte(`"FeatureCollection"`)) || bytes.Contains(h, []byte(`"Feature"`))
}
