"""Makes the small elevation grids of this folder: one formula, every kind of GeoTIFF that is read.

    python3 make.py          (made with tifffile 2026.3.3 and imagecodecs 2026.3.6, an independent writer)

Height in metres of row r (from the north) and column c: 10 + 3 r + 2 c. The north-west corner of the
raster is 21 W 37 S, a cell is 0.01 degrees; where a pixel is a point, that corner is the first height.
"""

import numpy
import tifffile

ROWS, COLUMNS, STEP = 30, 40, 0.01
heights = 10 + 3 * numpy.arange(ROWS)[:, None] + 2 * numpy.arange(COLUMNS)[None, :]


def geo(raster_type, nodata=None):
    keys = (1, 1, 0, 3, 1024, 0, 1, 2, 1025, 0, 1, raster_type, 2048, 0, 1, 4326)
    tags = [
        (33550, "d", 3, (STEP, STEP, 0.0), True),
        (33922, "d", 6, (0.0, 0.0, 0.0, -21.0, -37.0, 0.0), True),
        (34735, "H", len(keys), keys, True),
    ]
    if nodata is not None:
        tags.append((42113, "s", 0, nodata, True))
    return tags


def write(name, kind, raster_type=1, nodata=None, values=None, byteorder="<", **how):
    values = heights if values is None else values
    tifffile.imwrite(
        f"{name}.tif",
        values.astype(kind),
        photometric="minisblack",
        byteorder=byteorder,
        metadata=None,
        extratags=geo(raster_type, nodata),
        **how,
    )


write("strips-int16", "int16", rowsperstrip=7)
write("strips-int16-big-endian", "int16", byteorder=">", rowsperstrip=7)
write("strips-uint16", "uint16", rowsperstrip=7)
write("strips-float32", "float32", rowsperstrip=7)
write("tiles-int16", "int16", tile=(16, 16))
write("tiles-float32-deflate", "float32", tile=(16, 16), compression="zlib")
write("lzw-int16", "int16", compression="lzw")
write("lzw-int16-predictor", "int16", compression="lzw", predictor=2)
write("deflate-int16-predictor", "int16", compression="zlib", predictor=2)
write("deflate-float32-predictor", "float32", compression="zlib", predictor=3)
write("tiles-deflate-int16-predictor", "int16", tile=(16, 16), compression="zlib", predictor=2)
write("point-int16", "int16", raster_type=2)
holed = heights.copy()
holed[10:12, 20:22] = -9999
write("nodata-int16", "int16", nodata="-9999", values=holed)
