"""Queries by box against an independent tree: writes queries.csv beside this file.

Shapely's STRtree over the segments of a coast tells how many have a box that touches each of 400 seeded
boxes; its polygons tell whether the middle of the box is land. Segments along the sides of the clip
are left out: they are no shore. Run with shapely 2.2 and pyshp 3.1.
"""

import csv
import pathlib
import random

import shapefile
import shapely

HERE = pathlib.Path(__file__).parent
COASTS = ["hebrides", "aegean", "south-island"]
SEED = 20260311


def rings_of(name):
    path = HERE.parent / "natural-earth-coasts" / f"{name}.shp"
    with open(path, "rb") as shp, shapefile.Reader(shp=shp) as reader:
        for shape in reader.shapes():
            parts = list(shape.parts) + [len(shape.points)]
            for start, end in zip(parts, parts[1:]):
                yield [tuple(point[:2]) for point in shape.points[start:end]]


def main():
    rows = []
    for name in COASTS:
        rings = list(rings_of(name))
        xs = [x for ring in rings for x, _ in ring]
        ys = [y for ring in rings for _, y in ring]
        west, east, south, north = min(xs), max(xs), min(ys), max(ys)

        def on_clip(a, b):
            return any(a[0] == b[0] == side for side in (west, east)) or any(
                a[1] == b[1] == side for side in (south, north)
            )

        segments = [
            shapely.LineString([a, b])
            for ring in rings
            for a, b in zip(ring, ring[1:])
            if a != b and not on_clip(a, b)
        ]
        tree = shapely.STRtree(segments)
        # Rings inside rings are holes: even and odd.
        polygons = [shapely.Polygon(ring) for ring in rings if len(ring) > 3]
        draw = random.Random(SEED)
        for _ in range(400):
            size = 10 ** draw.uniform(-1.5, 0.3)
            x = draw.uniform(west, east - size)
            y = draw.uniform(south, north - size)
            box = [round(v, 6) for v in (y, x, y + size, x + size)]
            found = tree.query(shapely.box(box[1], box[0], box[3], box[2]))
            middle = shapely.Point(0.5 * (box[1] + box[3]), 0.5 * (box[0] + box[2]))
            land = sum(polygon.contains(middle) for polygon in polygons) % 2
            rows.append([name, *box, len(found), land])
    with open(HERE / "queries.csv", "w", newline="") as out:
        out.write("# segments whose box touches a box, and whether its middle is land\n")
        out.write("# computed: make.py, shapely 2.2.0 (GEOS), Natural Earth 10 m (public domain)\n")
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(["coast", "south", "west", "north", "east", "segments", "land"])
        writer.writerows(rows)


main()
