package geojson

import (
	"fmt"
	"slices"
	"strings"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// known is the key of a property, and what it is read as.
type known struct {
	key  string
	role role
}

// know finds out what a property is read as.
func (d *decoder) know(key []byte) known {
	if k, ok := d.keys[string(key)]; ok {
		return k
	}
	k := known{key: string(key)}
	k.role = roles[plainWord(k.key)]
	if d.keys == nil {
		d.keys = map[string]known{}
	}
	if len(d.keys) < 1000 {
		d.keys[k.key] = k
	}
	return k
}

// role is what a property is read as.
type role uint8

const (
	noRole role = iota
	nameRole
	idRole // a name, where there is no other
	codeRole
	layerRole
	descRole
	runRole
	staffedRole
	setupRole
	timeRole
	eastingRole // numbers from here on
	northingRole
	levelRole
	chainageRole
	offsetRole
)

func (r role) numeric() bool { return r >= eastingRole }

// roles of properties, by their plain word.
var roles = map[string]role{"name": nameRole, "id": idRole, "point": nameRole, "pointid": nameRole, "pointname": nameRole,
	"easting": eastingRole, "e": eastingRole, "northing": northingRole, "n": northingRole,
	"level": levelRole, "rl": levelRole, "elevation": levelRole, "elev": levelRole, "height": levelRole, "measuredlevel": levelRole,
	"code": codeRole, "featurecode": codeRole, "layer": layerRole, "description": descRole, "desc": descRole, "remark": descRole,
	"run": runRole, "pipe": runRole, "chainage": chainageRole, "offset": offsetRole, "staffed": staffedRole, "setup": setupRole, "setupid": setupRole, "time": timeRole, "observedon": timeRole}

func plainWord(s string) string {
	return strings.Map(func(r rune) rune {
		if r >= 'A' && r <= 'Z' {
			return r + 'a' - 'A'
		}
		if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' {
			return r
		}
		return -1
	}, s)
}

func (d *decoder) point(f *feature, coords [][]position) error {
	n := len(d.points)
	if n == cap(d.points) {
		d.points = slices.Grow(d.points, 1)
	}
	d.points = d.points[:n+1]
	p := &d.points[n]
	*p = formats.Point{Row: f.row, Col: f.col, ID: f.id}
	hasE, hasN := false, false
	bad := func(key, value string) {
		if p.Bad == "" {
			p.Bad = fmt.Sprintf("%s: %q is not a number", key, value)
			d.doc.Refuse(d.at.At(f.row, f.col), key, "%q is not a number", value)
		}
	}
	number := func(x *property, to *unit.Decimal, has *bool) {
		if x.plain {
			*to, *has = x.number, true
			return
		}
		if x.value == "" {
			return
		}
		v, _, err := unit.ParseDecimal(x.value)
		if err != nil {
			bad(x.key, x.value)
			return
		}
		*to, *has = v, true
	}
	var offset bool
	for i := range f.props {
		switch x := &f.props[i]; x.role {
		case nameRole:
			p.ID = x.value
		case idRole:
			if p.ID == "" {
				p.ID = x.value
			}
		case eastingRole:
			number(x, &p.E, &hasE)
		case northingRole:
			number(x, &p.N, &hasN)
		case levelRole:
			number(x, &p.Z, &p.Levelled)
		case codeRole:
			p.Code = x.value
		case layerRole:
			p.Layer = x.value
		case descRole:
			p.Desc = x.value
		case runRole:
			p.Run = x.value
		case chainageRole:
			number(x, &p.Chainage, &p.Chained)
		case offsetRole:
			number(x, &p.Offset, &offset)
		case staffedRole:
			p.Staffed = x.value
		case setupRole:
			p.Setup = x.value
		case timeRole:
			p.Time = x.value
		}
	}
	p.Placed = hasE && hasN
	if len(coords) > 0 && len(coords[0]) > 0 {
		c := &coords[0][0]
		d.latLon(c)
		if d.crs && !d.lonlat {
			if p.Placed && (p.E.Float() != c.v[0].Float() || p.N.Float() != c.v[1].Float()) {
				p.Bad = "its easting and northing differ from its coordinates"
				d.doc.Refuse(d.at.At(f.row, f.col), p.ID, "easting %s, northing %s stand beside the coordinates %s, %s; one of them is wrong", p.E, p.N, c.v[0], c.v[1])
			}
			p.E, p.N, p.Placed = c.v[0], c.v[1], true
			if c.n >= 3 && !p.Levelled {
				p.Z, p.Levelled = c.v[2], true
				d.asLevel++
			}
		} else if c.n >= 3 && !p.Levelled {
			d.heights++
		}
		if !p.Placed {
			d.noPlace++
		}
	}
	d.doc.PointCount++
	return d.flush(false)
}
