#!/usr/bin/python3
"""Samples points from the visible faces of a LandXML surface, apart from the
program: faces from the file, levels by exact fractions.

    sample.py SURFACE.xml > points.csv

Every point has a want column: the verdict at -20 / +10 mm, "outside" for points
that lie in invisible faces or beyond the surface only. A fifth of the points
stand on vertices and edges, a fifth exactly on a limit."""
import random
import sys
import xml.etree.ElementTree as ET
from fractions import Fraction as F

random.seed(20260301)
root = ET.parse(sys.argv[1]).getroot()
local = lambda e: e.tag.split("}")[-1]
points, faces, hidden = {}, [], []
for e in root.iter():
    if local(e) == "P":
        n, x, z = e.text.split()
        points[e.get("id")] = (F(x), F(n), F(z))
    elif local(e) == "F":
        (hidden if e.get("i") == "1" else faces).append(tuple(points[k] for k in e.text.split()))


def weights(t, e, n):
    (ax, ay, _), (bx, by, _), (cx, cy, _) = t
    d = (bx - ax) * (cy - ay) - (cx - ax) * (by - ay)
    if d == 0:
        return None
    b = ((e - ax) * (cy - ay) - (cx - ax) * (n - ay)) / d
    c = ((bx - ax) * (n - ay) - (e - ax) * (by - ay)) / d
    return 1 - b - c, b, c


def level(e, n):
    for t in faces:
        w = weights(t, e, n)
        if w and min(w) >= 0:
            return sum(k * p[2] for k, p in zip(w, t))
    return None


def plain(f, places):
    """a fraction as a decimal; exact where it is one"""
    q = round(f * 10**places)
    s = f"{abs(q):0{places + 1}d}"
    return ("-" if q < 0 else "") + s[:-places] + "." + s[-places:]


LO, UP = F(-20, 1000), F(10, 1000)
print("point,easting (m),northing (m),level (m),want,want_mm")
for i in range(250):
    kind = i % 5
    t = random.choice(hidden if kind == 4 else faces)
    if kind == 0:  # a vertex, with all its decimals
        e, n, _ = random.choice(t)
    elif kind == 1:  # the middle of an edge
        e, n = (t[0][0] + t[1][0]) / 2, (t[0][1] + t[1][1]) / 2
    else:
        w = [random.randint(1, 9) for _ in range(3)]
        e = round(sum(k * p[0] for k, p in zip(w, t)) / sum(w), 3)
        n = round(sum(k * p[1] for k, p in zip(w, t)) / sum(w), 3)
    z = level(e, n)
    if z is None:
        print(f"T{i},{plain(e, 12)},{plain(n, 12)},80.000,outside,")
        continue
    if kind == 3 and random.random() < 0.5:  # a millimetre beyond a limit or on it
        z = round(z + random.choice([LO, UP]) + random.choice([-1, 0, 1]) * F(1, 1000), 4)
    else:
        z = round(z + F(random.randint(-35, 25), 1000), 3)
    d = z - level(e, n)
    want = "pass" if LO <= d <= UP else "fail"
    print(f"T{i},{plain(e, 12)},{plain(n, 12)},{plain(z, 4)},{want},{plain(d * 1000, 6)}")
