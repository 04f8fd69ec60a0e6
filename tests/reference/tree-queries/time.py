"""How long pyshp and shapely take, as JSON, in seconds.

`time.py read COAST.shp`: to read the file, and to make a tree of its segments.
`time.py query FOLDER`: to find the segments whose box touches each box, by STRtree, one box after the
other and all of them in one call, with how many each box touches. The folder holds `segments`
(longitude and latitude of both ends) and `boxes` (west, south, east, north), 64-bit floats.

The fastest of five runs each. Needs numpy, shapely 2 and, to read, pyshp.
"""

import json
import pathlib
import sys
import time

import numpy as np
import shapely

RUNS = 5


def fastest(work, runs=RUNS):
    best = float("inf")
    for _ in range(runs):
        start = time.perf_counter()
        found = work()
        best = min(best, time.perf_counter() - start)
    return best, found


def tree_of(segments):
    return shapely.STRtree(shapely.linestrings(segments))


def read(path):
    import shapefile

    def points():
        with open(path, "rb") as shp, shapefile.Reader(shp=shp) as reader:
            return [
                np.asarray(shape.points[start:end])[:, :2]
                for shape in reader.iterShapes()
                for start, end in zip(shape.parts, [*shape.parts[1:], len(shape.points)])
            ]

    reading, rings = fastest(points, 1)
    segments = np.concatenate([np.stack([ring[:-1], ring[1:]], axis=1) for ring in rings])
    making, _ = fastest(lambda: tree_of(segments), 1)
    return {"read": reading, "tree": making, "segments": len(segments)}


def query(folder):
    segments = np.fromfile(folder / "segments", "<f8").reshape(-1, 2, 2)
    boxes = shapely.box(*np.fromfile(folder / "boxes", "<f8").reshape(-1, 4).T)
    making, tree = fastest(lambda: tree_of(segments), 1)
    tree.query(boxes[0])  # whatever it leaves to the first question is not counted
    one_by_one, counts = fastest(lambda: [len(tree.query(box)) for box in boxes])
    at_once, pairs = fastest(lambda: tree.query(boxes))
    assert counts == np.bincount(pairs[0], minlength=len(boxes)).tolist()
    return {"tree": making, "one_by_one": one_by_one, "at_once": at_once, "counts": counts}


what, where = sys.argv[1], pathlib.Path(sys.argv[2])
print(json.dumps({"read": read, "query": query}[what](where)))
