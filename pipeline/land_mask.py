"""Which cells of 30 seconds of arc (about 1 km) are land.

The mask comes with the package global-land-mask (MIT; made from NOAA's GLOBE elevations, where sea has no height; 1.8 MB
packed; lakes count as land). The package's own code unpacks it to 930 MB, so its file is read here: only the latitudes
asked for, eight cells a byte.
"""

import zipfile
from functools import lru_cache
from importlib.metadata import distribution

import numpy as np
from numpy.typing import NDArray

PER_DEGREE = 120
ROWS, COLUMNS = 180 * PER_DEGREE, 360 * PER_DEGREE
CELL_M = 927.0  # a cell from north to south
BAND = 600  # rows are read in bands of 5 degrees, so that neighbouring places share them
MASK = "global_land_mask/globe_combined_mask_compressed.npz"


@lru_cache(maxsize=2)
def sea_in(north: int, south: int) -> NDArray[np.uint8]:
    """Rows of the mask, from one (0 is the pole in the north) up to another, a bit a cell: 1 is sea."""
    out = np.empty((south - north, COLUMNS // 8), np.uint8)
    path = str(distribution("global-land-mask").locate_file(MASK))
    with zipfile.ZipFile(path) as packed, packed.open("mask.npy") as f:
        np.lib.format.read_magic(f)
        np.lib.format.read_array_header_1_0(f)
        for at in range(0, south, BAND // 6):
            cells = np.frombuffer(f.read(BAND // 6 * COLUMNS), np.uint8).reshape(-1, COLUMNS)
            if at >= north:
                out[at - north : at - north + len(cells)] = np.packbits(cells, axis=1)
    return out
