"""The restricted likelihood at given standard deviations, its gradient, and the effects that go with it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import linalg

from fleet.science.pooling.blocks import Blocks

Array = NDArray[np.float64]

ROUNDING = 1e-15
"""Share of the sum of squares that its computed remainder cannot be trusted under."""


@dataclass(frozen=True)
class Solution:
    """The mixed-model equations solved at one set of variances.

    Attributes
    ----------
    deviance : minus twice the log of the restricted likelihood
    variance : residual variance
    ratios : (k,) variance of each factor over the residual variance
    coefficients : (m,) effects of the rest, fixed effects last
    spread : (m, m) covariance of the errors of ``coefficients``, over the residual variance
    reduced, misfit : the rest with the eliminated factor absorbed, and what the coefficients leave of y there
    precision : (p,) prior precision of the fixed effects
    penalty : prior part of the quadratic form, over the residual variance
    quadratic : the whole quadratic form
    """

    deviance: float
    variance: float
    ratios: Array
    coefficients: Array
    spread: Array
    reduced: Array
    misfit: Array
    precision: Array
    penalty: float
    quadratic: float


def solve(blocks: Blocks, ratios: Array, precision: Array, variance: float | None) -> Solution:
    """Return the solution at variance ratios (k,); a residual variance of None is profiled out.

    Profiling is exact only where ``precision`` is 0 throughout.
    Deviance and profiled variance are those of [Bates2015] section 3.4.

    Raises
    ------
    LinAlgError
        A variance so far above the residual's that rounding hides the rest.
    """
    first = float(ratios[0]) if len(blocks.names) else 0.0
    rest = blocks.square - blocks.absorbed.at(first)
    reduced, reduced_side, left = rest[:-1, :-1], rest[:-1, -1], float(rest[-1, -1])
    scale = np.ones(len(reduced))
    for ratio, span in zip(ratios[1:], blocks.spans[:-1], strict=True):
        scale[span] = np.sqrt(ratio)
    matrix = scale[:, None] * reduced * scale
    ridge = np.ones(len(scale))
    ridge[blocks.spans[-1]] = precision * (variance or 0.0)
    matrix[np.diag_indices_from(matrix)] += ridge
    inverse, scaled, log_det = _solved(matrix, scale * reduced_side, ratios)
    quadratic = max(left - float((scale * reduced_side) @ scaled), ROUNDING * blocks.total)
    freedom = blocks.rows - len(precision)
    sigma2 = quadratic / freedom if variance is None else variance
    coefficients = scale * scaled
    known = precision[precision > 0.0]
    deviance = (
        log_det + float(np.log1p(first * blocks.mass).sum()) - blocks.log_weights - float(np.log(known).sum())
    )
    deviance += (freedom + len(known)) * float(np.log(2.0 * np.pi))
    deviance += freedom * float(np.log(sigma2)) + quadratic / sigma2
    return Solution(
        deviance=deviance,
        variance=sigma2,
        ratios=ratios,
        coefficients=coefficients,
        spread=scale[:, None] * inverse * scale,
        reduced=reduced,
        misfit=reduced_side - reduced @ coefficients,
        precision=precision,
        penalty=float(precision @ coefficients[blocks.spans[-1]] ** 2),
        quadratic=quadratic,
    )


def _solved(matrix: Array, side: Array, ratios: Array) -> tuple[Array, Array, float]:
    """Return inverse, solution and log determinant of the equations."""
    try:
        factor = linalg.cholesky(matrix, lower=True)
    except linalg.LinAlgError as error:
        raise linalg.LinAlgError(
            f"variances must be near enough to the residual's to be told from rounding, got {ratios.tolist()} times it"
        ) from error
    solved = linalg.cho_solve((factor, True), np.column_stack((np.eye(len(side)), side)))
    inverse, log_det = solved[:, :-1], 2.0 * float(np.log(np.diag(factor)).sum())
    return 0.5 * (inverse + inverse.T), solved[:, -1], log_det


def slopes(blocks: Blocks, at: Solution) -> tuple[Array, float]:
    """Return the derivative of the deviance by each variance ratio (k,) and by the residual variance.

    By ratio it is tr(Z'QZ) - |Z'Qy|^2 / variance, with Q the projection of the restricted likelihood
    [Searle1992] chapter 6. The rest uses a form that stays exact at a ratio of 0 and, where levels are
    well known, an equal one that stays exact at large ratios.
    """
    result = np.zeros(len(at.ratios))
    if len(at.ratios):
        drop = blocks.absorbed.slope(float(at.ratios[0]))
        trace = float(np.sum(blocks.mass / (1.0 + at.ratios[0] * blocks.mass)))
        trace -= float(np.sum(at.spread * drop[:-1, :-1]))
        contrast = np.append(-at.coefficients, 1.0)
        result[0] = trace - float(contrast @ drop @ contrast) / at.variance
    product = at.spread @ at.reduced
    spread = np.diag(at.spread)
    for place, span in enumerate(blocks.spans[:-1], start=1):
        ratio, levels = at.ratios[place], span.stop - span.start
        if ratio * float(blocks.square[span, span].trace()) > levels:
            trace = (levels - float(spread[span].sum()) / ratio) / ratio
            left = at.coefficients[span] / ratio
        else:
            trace = float(at.reduced[span, span].trace()) - float(
                np.sum(at.reduced[span].T * product[:, span])
            )
            left = at.misfit[span]
        result[place] = trace - float(left @ left) / at.variance
    fixed = blocks.spans[-1]
    by_variance = (
        (blocks.rows - len(at.precision)) / at.variance
        + float(at.precision @ spread[fixed])
        - (at.quadratic - at.variance * at.penalty) / at.variance**2
    )
    return result, by_variance
