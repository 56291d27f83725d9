package landxml

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"sightrail/formats"
)

// versions by namespace. A file in another namespace that looks like LandXML is
// refused; any other namespace is that of a profile.
var versions = map[string]string{
	"http://www.landxml.org/schema/LandXML-1.0": "1.0",
	"http://www.landxml.org/schema/LandXML-1.1": "1.1",
	"http://www.landxml.org/schema/LandXML-1.2": "1.2",
	"http://www.landxml.org/schema/LandXML-2.0": "2.0",
}

// resolve returns the local name of the current start tag and whether it
// belongs to LandXML: to the namespace of the root or to that of a version.
func (d *decoder) resolve(full string) (name string, mine bool) {
	for i := range d.attrs {
		if key := d.attrs[i].key; len(key) >= 5 && string(key[:5]) == "xmlns" {
			if prefix, of := local(string(key)); prefix == "xmlns" {
				d.spaces = append(d.spaces, space{of, string(d.attrs[i].value), len(d.path) + 1})
			} else if of == "xmlns" {
				d.spaces = append(d.spaces, space{"", string(d.attrs[i].value), len(d.path) + 1})
			}
		}
	}
	prefix, name := local(full)
	uri, declared := d.space(prefix)
	if !declared && prefix != "" && len(d.path) > 0 {
		d.refuse("", "the prefix of <%s> is declared nowhere, so that it cannot be told whether the element belongs to LandXML", full)
		d.spaces = append(d.spaces, space{prefix, "", 1}) // said once
		return name, false
	}
	return name, uri == d.ns || versions[uri] != ""
}

func (d *decoder) space(prefix string) (uri string, declared bool) {
	for i := len(d.spaces) - 1; i >= 0; i-- {
		if d.spaces[i].prefix == prefix {
			return d.spaces[i].uri, true
		}
	}
	return "", false
}

// dropSpaces forgets what elements declared that are closed now.
func (d *decoder) dropSpaces() {
	n := len(d.spaces)
	for n > 0 && d.spaces[n-1].depth > len(d.path) {
		n--
	}
	d.spaces = d.spaces[:n]
}

// rootElement judges the root: its name, namespace and version.
func (d *decoder) rootElement(full, name string) bool {
	if name != "LandXML" {
		d.refuse("", "the root element is <%s>, not <LandXML>; this is another kind of XML", full)
		return false
	}
	prefix, _ := local(full)
	d.ns, _ = d.space(prefix)
	stated := strings.TrimSpace(d.attrs.text("version"))
	version := versions[d.ns]
	switch {
	case version != "":
		if stated != "" && stated != version {
			d.note(d.here(), "version", "the version attribute says %s and the namespace %s; it is read as %s", stated, version, version)
		}
	case strings.Contains(strings.ToLower(d.ns), "landxml.org/"):
		d.refuse("xmlns", "the namespace %s is that of no version that is known here (1.0, 1.1, 1.2, 2.0); export the file as LandXML 1.2", d.ns)
		return false
	case stated != "" && !slices.Contains(slices.Collect(maps.Values(versions)), stated):
		d.refuse("version", "%q is no version that is known here (1.0, 1.1, 1.2, 2.0); export the file as LandXML 1.2", stated)
		return false
	case d.ns == "":
		d.note(d.here(), "xmlns", "the file has no namespace; it is read as LandXML")
	default:
		d.note(d.here(), "xmlns", "the namespace %s is that of a profile; the file is read as LandXML", d.ns)
	}
	if version == "" {
		version = stated
	}
	if version == "" {
		d.note(d.here(), "version", "the file does not say its LandXML version")
	}
	d.about("LandXML version", version)
	for _, k := range []string{"date", "time"} {
		d.about(k, strings.TrimSpace(d.attrs.text(k)))
	}
	return true
}

// about keeps what the file says of itself. Names of persons are not among it.
func (d *decoder) about(name, value string) {
	if value != "" {
		d.doc.About = append(d.doc.About, formats.Property{Name: name, Value: value})
	}
}

// readElements are the children of the root that are read, or hold nothing
// that is wanted.
var readElements = map[string]bool{"Units": true, "CoordinateSystem": true, "Project": true, "Application": true, "FeatureDictionary": true,
	"CgPoints": true, "Surfaces": true, "Alignments": true, "PipeNetworks": true}

// coordinateSystem keeps codes and names as text. Where two of them disagree
// it cannot be told which holds.
func (d *decoder) coordinateSystem(a attrs) {
	if d.parent(1) != "LandXML" {
		return
	}
	c := &d.doc.CRS
	if text := strings.TrimSpace(a.text("epsgCode")); text != "" {
		code := strings.ToUpper(text)
		if i := strings.LastIndexByte(code, ':'); i >= 0 && strings.Contains(code[:i], "EPSG") {
			code = strings.TrimSpace(code[i+1:])
		}
		switch {
		case strings.Trim(code, "0123456789") != "" || code == "":
			d.note(d.here(), "epsgCode", "%q is not an EPSG code and is not used", text)
		case c.EPSG != "" && c.EPSG != code:
			d.refuse("epsgCode", "a second coordinate system says %s where the first says %s; which one holds cannot be told", code, c.EPSG)
		default:
			c.EPSG = code
		}
	}
	pick := func(to *string, what string, keys ...string) {
		for _, k := range keys {
			switch v := strings.TrimSpace(a.text(k)); {
			case v == "" || v == *to:
			case *to == "":
				*to = v
			case what != "":
				d.note(d.here(), k, "the file names %s %q and also %q; the first is used", what, *to, v)
			}
		}
	}
	pick(&c.Name, "", "horizontalCoordinateSystemName", "projectedCoordinateSystemName", "name", "desc", "horizontalDatum")
	pick(&c.Vertical, "the height datum", "verticalDatum", "verticalCoordinateSystemName")
}

// tally counts by name.
type tally map[string]int

func (t tally) add(name string) { t[name]++ }

func (t tally) names() []string { return slices.Sorted(maps.Keys(t)) }

// String lists the names in order with their counts: "Parcels (2), Survey (1)".
func (t tally) String() string {
	var out []string
	for _, k := range t.names() {
		out = append(out, fmt.Sprintf("%s (%d)", k, t[k]))
	}
	return strings.Join(out, ", ")
}
