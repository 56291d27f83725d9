#!/usr/bin/env python3
"""Writes epsg.csv, the table of plane systems, from the database of PROJ.

    python3 gen.py [proj.db] > epsg.csv

Without a file it takes the one that projinfo finds.

Rows, by their first field:
    v  name, version                 of PROJ and of the EPSG dataset
    m  code, name                    operation method
    u  code, name, metres            unit: a whole number, a decimal or n/d
    x  number, west, south, east, north   bounds in degrees; west > east
                                     crosses the antimeridian
    g  code, name, datum, name of datum, a, 1/f, prime meridian
                                     geographic system; metres, degrees
    c  code, method, unit, values    conversion; degrees, factors, and lengths
                                     in that unit, or metres
    p  code, geographic system, name, conversion, bounds, unit, axes, deprecated
                                     plane system; "=" stands for the name of
                                     the geographic system and " / "; no unit is
                                     the metre, no axes are east and north;
                                     "d" and the code that replaces it, if any
    s  datum, kind, code, name, metres, bounds, values
                                     datum shift to WGS 84; kind n null, h with
                                     three, seven or ten parameters, g grid file,
                                     and an "o" where EPSG has a newer one for
                                     it; metres empty where none is stated
"""
import os
import sqlite3
import subprocess
import sys
from decimal import Decimal
from fractions import Fraction

METHODS = {  # what the package can do, with its parameters in the order of a row
    9807: (8801, 8802, 8805, 8806, 8807),
    9808: (8801, 8802, 8805, 8806, 8807),
    9801: (8801, 8802, 8805, 8806, 8807),
    9802: (8821, 8822, 8823, 8824, 8826, 8827),
    9803: (8821, 8822, 8823, 8824, 8826, 8827),
    1051: (8821, 8822, 8823, 8824, 8826, 8827, 1038),
    9804: (8801, 8802, 8805, 8806, 8807),
    9805: (8823, 8802, 8806, 8807),
    9806: (8801, 8802, 8806, 8807),
    9809: (8801, 8802, 8805, 8806, 8807),
    9810: (8801, 8802, 8805, 8806, 8807),
    9829: (8832, 8833, 8806, 8807),
    9812: (8811, 8812, 8813, 8814, 8815, 8806, 8807),
    9815: (8811, 8812, 8813, 8814, 8815, 8816, 8817),
    9820: (8801, 8802, 8806, 8807),
    9822: (8821, 8822, 8823, 8824, 8826, 8827),
    9819: (8811, 8833, 1036, 8818, 8819, 8806, 8807),
    1041: (8811, 8833, 1036, 8818, 8819, 8806, 8807),
}
HELMERT = {  # the sign that makes the rotations those of a position vector
    1031: 1, 9603: 1, 1033: 1, 9606: 1, 1061: 1, 1063: 1, 1032: -1, 9607: -1, 9636: -1,
}
WGS84, WGS84_DATUM = (4326, 4979, 4978), 6326
SEARS, BENOIT = Fraction(12) / Fraction("39.370147"), Fraction(12) / Fraction("39.370113")
# EPSG has Paris as 2.5969213 grads, "equivalent to" 2 degrees 20 minutes 14.025
# seconds, which is what IGN declares; they differ by 0.4 mm.
PARIS = Fraction(2) + Fraction(20, 60) + Fraction("14.025") / 3600
UNITS = [Fraction(1200, 3937), SEARS, 3 * SEARS, 66 * SEARS, 3 * BENOIT, 66 * BENOIT]

path = sys.argv[1] if len(sys.argv) > 1 else next(
    p for p in (os.path.join(d, "proj.db") for d in subprocess.check_output(["projinfo", "--searchpaths"], text=True).split("\n")) if os.path.exists(p))
db = sqlite3.connect("file:" + os.path.abspath(path) + "?mode=ro", uri=True)
units = {c: (n, t, f) for c, n, t, f in db.execute(
    "SELECT code, name, type, conv_factor FROM unit_of_measure WHERE auth_name = 'EPSG'")}


def exact(x):
    """The number that the database meant by a float: its shortest decimal."""
    return Fraction(repr(x)) if isinstance(x, float) else Fraction(x)


def text(x):
    """A fraction as the shortest decimal that gives the nearest float64."""
    s = format(Decimal(repr(float(x))).normalize(), "f")
    return "0" if s == "-0" else s


def metres(code):
    """A unit of length in metres, as the ratio it is defined by."""
    f = units[code][2]
    return next((u for u in UNITS if abs(float(u) / f - 1) < 1e-15), exact(f))


def degrees(x, code):
    if code == 9110:  # DDD.MMSSsss
        digits = format(Decimal(repr(abs(x))), "f").split(".")
        rest = (digits[1] if len(digits) > 1 else "").ljust(4, "0")
        v = int(digits[0]) + Fraction(int(rest[:2]), 60) + Fraction(rest[2:4] + "." + (rest[4:] or "0")) / 3600
        return -v if x < 0 else v
    if code in (9102, 9122):
        return exact(x)
    if code in (9105, 9106):
        return exact(x) * 9 / 10
    if code == 9104:
        return exact(x) / 3600
    if code == 9113:  # hundredth of a hundredth of a grad
        return exact(x) * 9 / 100000
    raise SystemExit(f"angle unit {code}")


def seconds(x, code):
    """An angle in arc-seconds."""
    f = {9104: Fraction(1), 1031: Fraction(1, 1000)}.get(code)
    if f is not None:
        return exact(x) * f
    if code in (9101, 9109):  # radians
        return exact(x) * exact(units[code][2]) * Fraction(648000) / Fraction("3.14159265358979323846")
    return degrees(x, code) * 3600


def factor(x, code):
    """A scale; two conversions give it a unit of length by mistake."""
    return exact(x) / 1000000 if code == 9202 and exact(x) > 1 else exact(x)


def row(*fields):
    out = []
    for f in fields:
        f = str(f)
        out.append('"' + f.replace('"', '""') + '"' if "," in f or '"' in f else f)
    while out[-1] == "":
        out.pop()
    print(",".join(out))


def blank(x, usual):
    return "" if x == usual else x


boxes, box_rows = {}, []


def box(table, code):
    """The number of the bounds of a usage; of several, what holds them all; "" where there are none."""
    b = None
    for w, s, e, n in db.execute(
            "SELECT west_lon, south_lat, east_lon, north_lat FROM usage u JOIN extent e ON e.auth_name = u.extent_auth_name AND e.code = u.extent_code"
            " WHERE u.object_table_name = ? AND u.object_auth_name = 'EPSG' AND u.object_code = ? AND e.west_lon IS NOT NULL ORDER BY e.code", (table, code)):
        if b and (b[0] > b[2] or w > e):
            raise SystemExit(f"{table} {code}: several bounds across the antimeridian")
        b = (min(b[0], w), min(b[1], s), max(b[2], e), max(b[3], n)) if b else (w, s, e, n)
    if b is None:
        return ""
    if b not in boxes:
        boxes[b] = len(boxes)
        box_rows.append((boxes[b],) + tuple(text(exact(v)) for v in b))
    return boxes[b]


geographic = {}
for g in db.execute(
        "SELECT g.code, g.name, d.code, d.name, e.semi_major_axis, e.uom_code, e.inv_flattening, e.semi_minor_axis, p.longitude, p.uom_code"
        " FROM geodetic_crs g JOIN geodetic_datum d ON d.auth_name = g.datum_auth_name AND d.code = g.datum_code"
        " JOIN ellipsoid e ON e.auth_name = d.ellipsoid_auth_name AND e.code = d.ellipsoid_code"
        " JOIN prime_meridian p ON p.auth_name = d.prime_meridian_auth_name AND p.code = d.prime_meridian_code"
        " WHERE g.auth_name = 'EPSG' AND d.auth_name = 'EPSG'"):
    code, name, datum, datum_name, a, a_unit, invf, b, pm, pm_unit = g
    pm = PARIS if (pm, pm_unit) == (2.5969213, 9105) else degrees(pm, pm_unit)
    invf = 0 if invf is None and a == b else exact(a) / (exact(a) - exact(b)) if invf is None else exact(invf)
    geographic[code] = (name, datum, datum_name, text(exact(a) * metres(a_unit)), text(invf), text(pm))

replaced = {}
for old, new in db.execute("SELECT deprecated_code, replacement_code FROM deprecation WHERE table_name = 'projected_crs' AND deprecated_auth_name = 'EPSG'"
                           " AND replacement_auth_name = 'EPSG' AND source = 'EPSG' ORDER BY deprecated_code, replacement_code"):
    replaced.setdefault(old, new)

conversions, methods, planes, used = {}, {}, [], set()
for code, name, geo, conv, cs, deprecated in db.execute(
        "SELECT code, name, geodetic_crs_code, conversion_code, coordinate_system_code, deprecated FROM projected_crs WHERE auth_name = 'EPSG'"
        " AND geodetic_crs_auth_name = 'EPSG' AND conversion_auth_name = 'EPSG' ORDER BY code"):
    c = db.execute("SELECT * FROM conversion_table WHERE auth_name = 'EPSG' AND code = ?", (conv,)).fetchone()
    method = c[5]
    methods[method] = db.execute("SELECT name FROM conversion_method WHERE auth_name = 'EPSG' AND code = ?", (method,)).fetchone()[0]
    values = {c[i + 1]: (c[i + 2], c[i + 4]) for i in range(6, len(c) - 5, 5) if c[i + 1] is not None}
    lon0 = None
    if conv not in conversions:
        length, out = "", []
        for p in METHODS.get(method, ()):
            v, u = values[p]
            kind = units[u][1]
            if p in (8805, 8815, 8819, 1038):
                out.append(text(factor(v, u)))
            elif kind == "angle":
                out.append(text(degrees(v, u)))
            else:
                if length not in ("", u):
                    raise SystemExit(f"conversion {conv} has two units of length")
                length = u
                out.append(text(exact(v)))
        conversions[conv] = (method, blank(length, 9001), out)
    axes = db.execute("SELECT orientation, uom_code FROM axis WHERE coordinate_system_auth_name = 'EPSG' AND coordinate_system_code = ?"
                      " ORDER BY coordinate_system_order", (cs,)).fetchall()
    if axes[0][1] != axes[1][1]:
        raise SystemExit(f"{code}: two units")
    words = [a[0] for a in axes[:2]]
    if all(w in ("east", "north", "west", "south") for w in words):
        order = words[0][0] + words[1][0]
    else:  # a polar system: its easting runs along the meridian a quarter turn east of its own
        lon = [w.split(" along ")[1] for w in words]
        lon = [(-1 if w.endswith("W") else 1) * float(w.rstrip("EW").rstrip("°")) for w in lon]
        lon0 = float(conversions[conv][2][1]) if conversions[conv][2] else lon[0] - 90
        order = "en" if (lon[0] - lon0 - 90) % 360 == 0 else "ne" if (lon[1] - lon0 - 90) % 360 == 0 else "??"
        if order == "??":
            raise SystemExit(f"{code}: axes {words} of a system about {lon0}")
    base = geographic[geo][0]
    short = "=" + name[len(base) + 3:] if name.startswith(base + " / ") else name
    used.add(geo)
    planes.append((code, geo, short, conv, box("projected_crs", code), blank(axes[0][1], 9001), blank(order, "en"), "d" + str(replaced.get(code, "")) if deprecated else ""))

same = {}  # the systems that a shift may start from, by datum
for code, g in geographic.items():
    same.setdefault(g[1], []).append(code)

shifts = []
datums = {geographic[g][1] for g in used}
turned = {}  # datum on another meridian: the one on Greenwich, by a longitude rotation
for s, t in db.execute("SELECT source_crs_code, target_crs_code FROM other_transformation WHERE auth_name = 'EPSG' AND deprecated = 0 AND method_code = 9601 ORDER BY code"):
    if geographic[s][1] in datums and geographic[t][5] == "0" and geographic[s][3:5] == geographic[t][3:5]:
        turned.setdefault(geographic[s][1], geographic[t][1])


old = {c for c, in db.execute("SELECT superseded_code FROM supersession WHERE superseded_auth_name = 'EPSG' AND same_source_target_crs = 1"
                              " AND superseded_table_name IN ('helmert_transformation', 'grid_transformation')")}


def stated(accuracy):
    return "" if accuracy is None or accuracy >= 999 else text(exact(accuracy))


H = ("SELECT code, name, accuracy, method_code, tx, ty, tz, translation_uom_code, rx, ry, rz, rotation_uom_code, scale_difference, scale_difference_uom_code,"
     " px, py, pz, pivot_uom_code, target_crs_code FROM helmert_transformation_table"
     " WHERE auth_name = 'EPSG' AND deprecated = 0 AND rate_tx IS NULL AND source_crs_code IN (%s)")
nulls = {}  # datum: its null shifts to other systems


def null(h):
    return not any(v for v in h[4:7] + h[8:11] + (h[12],))


for datum in sorted({geographic[g][1] for g in geographic}):
    for h in db.execute(H % ",".join(map(str, same[datum]))):
        if null(h) and h[18] in geographic:
            nulls.setdefault(datum, []).append((h, geographic[h[18]][1]))
            if geographic[h[18]][1] != WGS84_DATUM:  # both ways
                nulls.setdefault(geographic[h[18]][1], []).append((h, datum))

for datum in sorted(datums):
    start = same[turned.get(datum, datum)]
    found = len(shifts)
    for h in sorted(db.execute((H + " AND target_crs_code IN (4326, 4979, 4978)") % ",".join(map(str, start)))):
        code, name, accuracy, method, tx, ty, tz, t_unit, rx, ry, rz, r_unit, ds, ds_unit, px, py, pz, p_unit, _ = h
        if method not in HELMERT:
            continue
        values = []
        if not null(h):
            values = [text(exact(v) * metres(t_unit)) for v in (tx, ty, tz)]
            sign = HELMERT[method]
            turns = [text(sign * seconds(v, r_unit)) if v else "0" for v in (rx, ry, rz)]
            ppm = {None: 1, 9202: 1, 1028: Fraction(1, 1000), 9201: 1000000}[ds_unit] * exact(ds or 0)
            if any(t != "0" for t in turns) or ppm:
                values += turns + [text(ppm)]
            if px is not None:
                values += [text(exact(v) * metres(p_unit)) for v in (px, py, pz)]
        shifts.append((datum, ("h" if values else "n") + "o" * (code in old), code, name, stated(accuracy), box("helmert_transformation", code), *values))
    for code, name, accuracy, grid in sorted(db.execute(
            "SELECT code, name, accuracy, grid_name FROM grid_transformation WHERE auth_name = 'EPSG' AND deprecated = 0 AND target_crs_code IN (4326, 4979)"
            " AND source_crs_code IN (%s)" % ",".join(map(str, start)))):
        shifts.append((datum, "g" + "o" * (code in old), code, name, stated(accuracy), box("grid_transformation", code), grid))
    if datum != WGS84_DATUM and found == len(shifts):  # by two null shifts
        for h, via in nulls.get(datum, ()):
            for h2, to in nulls.get(via, ()):
                if to == WGS84_DATUM:
                    total = None if h[2] is None or h2[2] is None else exact(h[2]) + exact(h2[2])
                    shifts.append((datum, "n", f"{h[0]}+{h2[0]}", h[1] + ", " + h2[1], stated(float(total) if total is not None else None), box("helmert_transformation", h[0])))

meta = dict(db.execute("SELECT key, value FROM metadata"))
row("v", "PROJ", meta["PROJ.VERSION"])
row("v", "EPSG", meta["EPSG.VERSION"], meta["EPSG.DATE"])
for m in sorted(methods):
    row("m", m, methods[m])
for u in sorted({p[5] or 9001 for p in planes} | {c[1] for c in conversions.values() if c[1]}):
    f = metres(u)
    decimal = text(f)
    row("u", u, units[u][0], decimal if Fraction(decimal) == f else f"{f.numerator}/{f.denominator}")
for b in box_rows:
    row("x", *b)
for g in sorted(used):
    row("g", g, *geographic[g])
for c in sorted(conversions):
    m, u, v = conversions[c]
    row("c", c, m, u, *v)
for p in planes:
    row("p", *p)
for s in shifts:
    row("s", *s)
