#!/usr/bin/env python3
"""Volumes, thicknesses and TIN levels by numpy and scipy, beside those of sightrail.

usage: volumes.py SIGHTRAIL FOLDER

Makes shots and a design at random (a fixed seed), lets sightrail judge them, and works
everything out again: the Delaunay triangulation by scipy (Qhull), levels by barycentric
weights, volumes by clipping triangles. Nothing is shared with the program. Levels agree
to 1e-6 m, volumes, areas and thicknesses to 1e-9 of their size.
"""
import csv
import json
import os
import subprocess
import sys

import numpy as np
from scipy.spatial import Delaunay

program, folder = sys.argv[1], sys.argv[2]
rng = np.random.default_rng(20261125)
compared = 0


def agree(what, got, want, within):
    global compared
    compared += 1
    if not abs(got - want) <= within:
        sys.exit(f"{what}: sightrail {got!r}, numpy {want!r}, apart {abs(got - want):.3g}, allowed {within:.3g}")


def surface(n, size, base, rough, prefix):
    """Points with 4 decimals: the corners of a square, and n inside."""
    xy = np.vstack([[[0, 0], [size, 0], [size, size], [0, size]], rng.uniform(0.3, size - 0.3, (n, 2))]).round(4)
    z = (base + 0.01 * xy[:, 0] - 0.02 * xy[:, 1] + rough * rng.standard_normal(len(xy))).round(4)
    return [f"{prefix}{i}" for i in range(len(xy))], np.column_stack([xy, z])


def table(name, names, points, code=None):
    with open(os.path.join(folder, name), "w", newline="") as f:
        w = csv.writer(f)
        w.writerow(["Point", "Easting (m)", "Northing (m)", "Level (m)"] + (["Code"] if code else []))
        for n, p in zip(names, points):
            w.writerow([n, *(f"{v:.4f}" for v in p)] + ([code] if code else []))


def levels(mesh, z, at):
    """Levels of a TIN at places; nan outside."""
    k = mesh.find_simplex(at, bruteforce=True)
    out = np.full(len(at), np.nan)
    ok = k >= 0
    t = mesh.simplices[k[ok]]
    a, b, c = (mesh.points[t[:, i]] for i in range(3))
    p = at[ok]
    cross = lambda u, v: u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    d = cross(b - a, c - a)
    wb, wc = cross(p - a, c - a) / d, cross(b - a, p - a) / d
    out[ok] = z[t[:, 0]] * (1 - wb - wc) + z[t[:, 1]] * wb + z[t[:, 2]] * wc
    return out


def clip(poly, value):
    """The part of a polygon where a linear function, given at its corners, is not below 0."""
    out = []
    for i in range(len(poly)):
        a, b, va, vb = poly[i], poly[(i + 1) % len(poly)], value[i], value[(i + 1) % len(poly)]
        if va >= 0:
            out.append(a)
        if (va > 0 > vb) or (va < 0 < vb):
            out.append(a + (b - a) * (va / (va - vb)))
    return np.array(out).reshape(-1, 2)


def inside(poly, triangle):
    """A convex polygon cut by a counter-clockwise triangle."""
    for i in range(3):
        a, b = triangle[i], triangle[(i + 1) % 3]
        if len(poly) < 3:
            return poly
        poly = clip(poly, (b[0] - a[0]) * (poly[:, 1] - a[1]) - (b[1] - a[1]) * (poly[:, 0] - a[0]))
    return poly


def solid(poly, value):
    """Area of a polygon and the integral of a linear function over it."""
    area = volume = 0.0
    for i in range(1, len(poly) - 1):
        u, v = poly[i] - poly[0], poly[i + 1] - poly[0]
        a = (u[0] * v[1] - u[1] * v[0]) / 2
        area += a
        volume += a * (value[0] + value[i] + value[i + 1]) / 3
    return area, volume


def turned(t):
    u, v = t[1][:2] - t[0][:2], t[2][:2] - t[0][:2]
    return t if u[0] * v[1] - u[1] * v[0] > 0 else t[[0, 2, 1]]


def plane(t):
    m = np.column_stack([t[1][:2] - t[0][:2], t[2][:2] - t[0][:2]]).T
    g = np.linalg.solve(m, [t[1][2] - t[0][2], t[2][2] - t[0][2]])
    return lambda p: t[0][2] + (p - t[0][:2]) @ g


def volumes(built, design, upper, lower):
    """above, below, over, under, compared, area over, area under."""
    sums = np.zeros(7)
    theirs = [turned(t) for t in design]
    boxes = np.array([[t[:, :2].min(0), t[:, :2].max(0)] for t in theirs])
    for t in map(turned, built):
        lo, hi = t[:, :2].min(0), t[:, :2].max(0)
        near = np.nonzero((boxes[:, 0] <= hi).all(1) & (boxes[:, 1] >= lo).all(1))[0]
        up = plane(t)
        for k in near:
            poly = inside(t[:, :2], theirs[k][:, :2])
            if len(poly) < 3:
                continue
            down = plane(theirs[k])
            d = up(poly) - down(poly)
            sums[4] += solid(poly, d)[0]
            for i, sign, level in ((0, 1, 0), (1, -1, 0), (2, 1, upper), (3, -1, -lower)):
                part = clip(poly, sign * d - level)
                if len(part) >= 3:
                    a, v = solid(part, sign * (up(part) - down(part)) - level)
                    sums[i] += v
                    if i >= 2:
                        sums[i + 3] += a
    return sums


names, design = surface(150, 50, 100, 0.05, "d")
table("design.csv", names, design)
built_names, built = surface(250, 40, 100.02, 0.06, "s")
built[:, :2] += 5
table("shots.csv", built_names, built)
low_names, low = surface(120, 60, 99.8, 0.03, "l")
low[:, :2] -= 5
table("low.csv", low_names, low, "LOW")
table("top.csv", built_names, built, "TOP")
head = "project: witness\nunits: m\ngrid: local site\nheightDatum: site\n"
with open(os.path.join(folder, "job.yaml"), "w") as f:
    f.write(head + """surveys:
  - {file: shots.csv, kind: points, staffed: surface}
  - {file: low.csv, kind: points, staffed: surface}
  - {file: top.csv, kind: points, staffed: surface}
designs:
  - {name: d, file: design.csv, points: {}}
checks:
  - surface: {name: level, element: e, design: d, shots: {surveys: [shots.csv]}, tolerance: {lower: -30 mm, upper: 30 mm, source: s}}
  - volume: {name: volume, element: e, design: d, shots: {surveys: [shots.csv]}, beyond: {lower: -30 mm, upper: 50 mm, source: s}}
  - thickness: {name: vertical, element: e, specified: 250 mm, shots: {surveys: [low.csv, top.csv]}, lower: {codes: [LOW]}, tolerance: {lower: -20 mm, source: s}}
  - thickness: {name: normal, element: e, specified: 250 mm, direction: normal, shots: {surveys: [low.csv, top.csv]}, lower: {codes: [LOW]}, tolerance: {lower: -20 mm, source: s}}
""")
out = os.path.join(folder, "out")
run = subprocess.run([program, "check", os.path.join(folder, "job.yaml"), "-o", out, "--outputs", "csv,summary", "--quiet"], capture_output=True, text=True)
if run.returncode not in (1, 2):
    sys.exit(f"sightrail ended with {run.returncode}: {run.stderr}")
rows = list(csv.DictReader(open(os.path.join(out, "results.csv"))))

mesh = Delaunay(design[:, :2])
want = levels(mesh, design[:, 2], built[:, :2])
level_rows = [r for r in rows if r["check"] == "level" and r["design"]]
if len(level_rows) != np.count_nonzero(~np.isnan(want)):
    sys.exit(f"{len(level_rows)} levels of sightrail, {np.count_nonzero(~np.isnan(want))} of scipy")
for r in level_rows:
    agree(f"level at {r['point']}", float(r["design"]), want[built_names.index(r["point"])], 1e-6)

under = Delaunay(low[:, :2])
want = built[:, 2] - levels(under, low[:, 2], built[:, :2])
k = under.find_simplex(built[:, :2], bruteforce=True)
for name in ("vertical", "normal"):
    found = [r for r in rows if r["check"] == name and r["use"] == "derived" and r["measured"]]
    if len(found) != len(built):
        sys.exit(f"{len(found)} thicknesses of sightrail, {len(built)} of scipy")
    for r in found:
        i = built_names.index(r["point"])
        thick = want[i]
        if name == "normal":
            t = np.column_stack([under.points, low[:, 2]])[under.simplices[k[i]]]
            n = np.cross(t[1] - t[0], t[2] - t[0])
            thick *= abs(n[2]) / np.linalg.norm(n)
        agree(f"{name} thickness at {r['point']}", 0.25 + float(r["diff_mm"]) / 1000, thick, 1e-9 * abs(thick))

built_mesh = Delaunay(built[:, :2])
got = {f["name"]: f["value"] for c in json.load(open(os.path.join(out, "summary.json")))["checks"] if c["name"] == "volume" for f in c["figures"]}
sums = volumes(built[built_mesh.simplices], design[mesh.simplices], 0.05, -0.03)
for name, v in zip(("volume above design", "volume below design", "volume beyond the upper limit, 50 mm", "volume beyond the lower limit, -30 mm", "area compared", "area beyond the upper limit", "area beyond the lower limit"), sums):
    agree(name, got[name], v, 1e-9 * abs(v))
agree("mean difference", got["mean difference"], (sums[0] - sums[1]) / sums[4] * 1000, 1e-9 * 1000)
if compared < 500:
    sys.exit(f"only {compared} numbers were compared")
print(f"volumes.py: {compared} levels, thicknesses, volumes and areas agree")
