"""Find the Weibull distribution most likely behind some lives, on the logarithms of scale and shape.

With z = beta (log t - log eta) a set worn out at t adds log beta + z - log t - exp(z), one still running -exp(z), and
one first seen at s adds exp(z of s): it was bound to last that long [Meeker1998] sections 8.3 and 11.6.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from fleet.science.product_life.lives import Array, Lives

MOST_STEPS: Final = 200
CONVERGED: Final = 1e-10
"""Twice the log likelihood still to be gained; the last Newton step leaves about its square."""

LEAST_SHAPE: Final = 0.05
"""Lives of this shape differ by eleven powers of ten: the sets, all part-worn then, tell no scale."""

_ROUNDING: Final = 1e-12


@dataclass(frozen=True)
class Posterior:
    """Log likelihood of some lives plus normal beliefs about log scale and log shape (precision 0: none)."""

    lives: Lives
    means: Array
    precisions: Array

    def peak(self, start_shape: float) -> tuple[Array, Array]:
        """Return the greatest point and the inverse of the information there; NaN where there is none."""
        point = self._start(start_shape)
        with np.errstate(over="ignore", invalid="ignore"):
            for _ in range(MOST_STEPS):
                slope, information = self._derivatives(point)
                step = _uphill(slope, information)
                if not np.isfinite(step).all():
                    break
                point = self._shortened(point, step)
                if slope @ step < CONVERGED:
                    if point[1] < np.log(LEAST_SHAPE):
                        break
                    log_cov = np.linalg.inv(self._derivatives(point)[1])
                    return point, np.asarray(log_cov, dtype=np.float64)
        return np.full(2, np.nan), np.full((2, 2), np.nan)

    def value(self, point: Array) -> float:
        """Return the log of the posterior density up to a constant."""
        return log_likelihood(self.lives, point) - 0.5 * float(
            self.precisions @ np.square(point - self.means)
        )

    def _start(self, shape: float) -> Array:
        """Return the best scale for a shape, which is the believed one where nothing wore out."""
        worn = self.lives.is_worn.sum()
        if not worn:
            return self.means
        typical = self.lives.until.max()
        run = np.sum((self.lives.until / typical) ** shape - (self.lives.since / typical) ** shape)
        return np.array([np.log(typical) + np.log(run / worn) / shape, np.log(shape)])

    def _derivatives(self, point: Array) -> tuple[Array, Array]:
        """Return the slope of the log density and its negative curvature, the observed information."""
        shape = np.exp(point[1])
        z, hazard = _hazards(self.lives.until, point)
        z_since, hazard_since = _hazards(self.lives.since, point)
        sums = [float(np.sum(hazard * z**k) - np.sum(hazard_since * z_since**k)) for k in range(3)]
        worn, z_worn = self.lives.is_worn.sum(), float(z[self.lives.is_worn].sum())
        slope = np.array([shape * (sums[0] - worn), worn + z_worn - sums[1]])
        mixed = shape * (worn - sums[0] - sums[1])
        information = np.array([[shape**2 * sums[0], mixed], [mixed, sums[2] + sums[1] - z_worn]])
        return slope - self.precisions * (point - self.means), information + np.diag(self.precisions)

    def _shortened(self, point: Array, step: Array) -> Array:
        """Return the point a step further, the step halved until it does not lead down."""
        here = self.value(point)
        least = here - _ROUNDING * (1.0 + abs(here))
        while not self.value(point + step) >= least:
            step = 0.5 * step
        return point + step


def log_likelihood(lives: Lives, point: Array) -> float:
    """Return the log likelihood of the lives at a log scale and log shape."""
    z, hazard = _hazards(lives.until, point)
    hazard_since = _hazards(lives.since, point)[1]
    worn = lives.is_worn
    at_wear = point[1] + z[worn] - np.log(lives.until[worn])
    return float(np.sum(at_wear) - np.sum(hazard) + np.sum(hazard_since))


def _hazards(durations: Array, point: Array) -> tuple[Array, Array]:
    """Return z and the cumulative hazard exp(z); at duration 0 the hazard is 0, and z is set to 0 as it counts nowhere."""
    run = durations > 0.0
    z = np.where(run, np.exp(point[1]) * (np.log(np.where(run, durations, 1.0)) - point[0]), 0.0)
    return z, np.where(run, np.exp(z), 0.0)


def _uphill(slope: Array, information: Array) -> Array:
    """Return Newton's step, turned uphill where the surface is not yet a peak."""
    if not np.isfinite(information).all():
        return np.full(2, np.nan)
    curvatures, axes = np.linalg.eigh(information)
    sizes = np.maximum(np.abs(curvatures), _ROUNDING * np.abs(curvatures).max() + np.finfo(np.float64).tiny)
    return np.asarray(axes @ ((axes.T @ slope) / sizes))
