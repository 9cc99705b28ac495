"""A published series of tread depths, shared by the tests of wear."""

import numpy as np

MM_PER_MIL = 0.0254
KM_PER_MILE = 1.609344

# Tread depth against distance: Tamhane and Dunlop (2000), Statistics and Data Analysis, example 10.2 (9 points).
TREAD_KM = np.array([0, 4, 8, 12, 16, 20, 24, 28, 32]) * 1000 * KM_PER_MILE
TREAD_MM = np.array([394.33, 329.50, 291.00, 255.17, 229.33, 204.83, 179.00, 163.83, 150.33]) * MM_PER_MIL
