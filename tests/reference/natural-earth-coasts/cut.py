"""Cuts the coasts of this folder out of Natural Earth's land at 1:10,000,000.

    python3 cut.py ne_10m_land.shp          (made with pyshp 3.1.6)

A ring that lies wholly inside a coast's box is kept as it is, to the last bit; one that leaves it is
clipped at the box (Sutherland and Hodgman, "Reentrant polygon clipping", 1974), so that its pieces
hang together by edges that run to and fro along the box's sides. Rings of fewer than four corners
that clipping leaves are dropped. No attribute table is written: a bare .shp is read.
"""

import sys

import shapefile

# West, south, east, north in degrees.
COASTS = {
    "brittany": (-8.0, 46.5, 0.5, 52.0),
    "aegean": (22.0, 34.5, 29.0, 41.0),
    "hokkaido": (138.5, 39.0, 146.5, 46.0),
    "iceland": (-26.0, 62.5, -12.0, 67.5),
    "galicia": (-11.0, 40.5, -4.0, 45.0),
    "nova-scotia": (-68.0, 42.0, -58.0, 48.0),
    "south-island": (165.0, -48.5, 175.5, -40.0),
    "hebrides": (-9.5, 54.0, -3.5, 60.0),
}


def rings(path):
    for shape in shapefile.Reader(shp=path).shapes():
        parts = list(shape.parts) + [len(shape.points)]
        for start, end in zip(parts, parts[1:]):
            yield [tuple(point[:2]) for point in shape.points[start:end]]


def clipped(ring, axis, limit, sign):
    """What an open ring has where sign * (coordinate - limit) >= 0."""
    kept = []
    for i, b in enumerate(ring):
        a = ring[i - 1]
        in_a, in_b = sign * (a[axis] - limit), sign * (b[axis] - limit)
        if (in_a >= 0.0) != (in_b >= 0.0):
            share = in_a / (in_a - in_b)
            other = a[1 - axis] + share * (b[1 - axis] - a[1 - axis])
            kept.append((limit, other) if axis == 0 else (other, limit))
        if in_b >= 0.0:
            kept.append(b)
    return kept


def in_box(ring, box):
    west, south, east, north = box
    if all(west <= x <= east and south <= y <= north for x, y in ring):
        return ring
    ring = ring[:-1]
    for axis, limit, sign in ((0, west, 1), (0, east, -1), (1, south, 1), (1, north, -1)):
        ring = clipped(ring, axis, limit, sign)
    return ring + ring[:1] if len(ring) >= 4 else []


def main():
    land = list(rings(sys.argv[1]))
    for name, box in COASTS.items():
        kept = [part for part in (in_box(ring, box) for ring in land) if part]
        with open(f"{name}.shp", "wb") as shp:
            writer = shapefile.Writer(shp=shp, shapeType=shapefile.POLYGON)
            for ring in kept:
                writer.poly([ring])
            writer.close()
        print(name, len(kept), "rings", sum(map(len, kept)), "vertices")


main()
