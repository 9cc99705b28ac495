"""Published lives, and invented ones, for the tests of product life."""

import numpy as np
from hypothesis import strategies as st

# Freireich et al. (1963), remission in weeks; + is censored.
TREATED = "6 6 6 6+ 7 9+ 10 10+ 11+ 13 16 17+ 19+ 20+ 22 23 25+ 32+ 32+ 34+ 35+"
PLACEBO = "1 1 2 2 3 4 4 5 5 8 8 8 8 11 11 12 12 15 17 22 23"

# Meeker and Escobar (1998), page 630: km to failure of shock absorbers; + is censored.
ABSORBERS = (
    "6700 6950+ 7820+ 8790+ 9120 9660+ 9820+ 11310+ 11690+ 11850+ 11880+ 12140+ 12200 12870+ 13150 13330+ 13470+ "
    "14040+ 14300 17520 17540+ 17890+ 18450+ 18960+ 18980+ 19410+ 20100 20100+ 20150+ 20320+ 20900 22700 23490+ "
    "26510 27410+ 27490 27890+ 28100+"
)

# The case with delayed entry that statsmodels tests its own estimate with, there taken from R's survival package.
LATE_DURATIONS = [1, 3, 3, 5, 5, 7, 7, 8, 8, 9, 10, 10]
LATE_WORN = [1, 1, 0, 1, 1, 1, 0, 0, 1, 1, 0, 1]
LATE_FROM = [0, 1, 1, 2, 2, 2, 3, 4, 4, 4, 4, 0]

SETS = st.lists(
    st.tuples(st.integers(min_value=1, max_value=30), st.booleans()), min_size=1, max_size=25
).map(lambda rows: (np.array([days for days, _ in rows], float), np.array([worn for _, worn in rows])))


def sample(text):
    marked = text.split()
    return [float(each.rstrip("+")) for each in marked], [not each.endswith("+") for each in marked]


def invented(seed, sets=60):
    """Lives of shape 3 about 6 riding days; some sold early, some first seen part-worn."""
    rng = np.random.default_rng(seed)
    life, sold = 6 * rng.weibull(3, sets), rng.uniform(2, 12, sets)
    since = rng.uniform(0, 5, sets) * (rng.random(sets) < 0.5)
    seen = np.minimum(life, sold) > since
    return np.minimum(life, sold)[seen], (life <= sold)[seen], since[seen]


def ends(interval):
    return [float(interval.low), float(interval.high)]
