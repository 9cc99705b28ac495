"""The restricted likelihood at given standard deviations, its gradient, and the effects that go with it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

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
    shrink : (q,) ratio / (1 + ratio * mass) of each eliminated level
    coefficients : (m,) effects of the rest, fixed effects last
    spread : (m, m) covariance of the errors of ``coefficients``, over the residual variance
    reduced, misfit : the rest with the eliminated factor absorbed, and what the coefficients leave of y there
    main : (q,) effects of the eliminated factor
    precision : (p,) prior precision of the fixed effects
    penalty : prior part of the quadratic form, over the residual variance
    quadratic : the whole quadratic form
    """

    deviance: float
    variance: float
    ratios: Array
    shrink: Array
    coefficients: Array
    spread: Array
    reduced: Array
    misfit: Array
    main: Array
    precision: Array
    penalty: float
    quadratic: float


def solve(blocks: Blocks, ratios: Array, precision: Array, variance: float | None) -> Solution:
    """Return the solution at variance ratios (k,); a residual variance of None is profiled out.

    Profiling is exact only where ``precision`` is 0 throughout.
    Deviance and profiled variance are those of [Bates2015] section 3.4.
    """
    first = ratios[0] if len(blocks.names) else 0.0
    shrink = first / (1.0 + first * blocks.mass)
    reduced = blocks.square - blocks.linked(shrink)
    reduced_side = blocks.side - blocks.links.T @ (shrink * blocks.pull)
    scale = np.ones(len(blocks.side))
    for ratio, span in zip(ratios[1:], blocks.spans[:-1], strict=True):
        scale[span] = np.sqrt(ratio)
    matrix = scale[:, None] * reduced * scale
    ridge = np.ones(len(scale))
    ridge[blocks.spans[-1]] = precision * (variance or 0.0)
    matrix[np.diag_indices_from(matrix)] += ridge
    inverse = np.linalg.inv(matrix)
    scaled = np.linalg.solve(matrix, scale * reduced_side)
    quadratic = blocks.total - float(shrink @ blocks.pull**2) - float((scale * reduced_side) @ scaled)
    quadratic = max(quadratic, ROUNDING * blocks.total)
    freedom = blocks.rows - len(precision)
    sigma2 = quadratic / freedom if variance is None else variance
    coefficients = scale * scaled
    spread = scale[:, None] * (0.5 * (inverse + inverse.T)) * scale
    known = precision[precision > 0.0]
    log_det = float(np.log1p(first * blocks.mass).sum() + np.linalg.slogdet(matrix)[1])
    deviance = log_det - blocks.log_weights - float(np.log(known).sum())
    deviance += (freedom + len(known)) * float(np.log(2.0 * np.pi))
    deviance += freedom * float(np.log(sigma2)) + quadratic / sigma2
    return Solution(
        deviance=deviance,
        variance=sigma2,
        ratios=ratios,
        shrink=shrink,
        coefficients=coefficients,
        spread=spread,
        reduced=reduced,
        misfit=reduced_side - reduced @ coefficients,
        main=shrink * (blocks.pull - blocks.links @ coefficients),
        precision=precision,
        penalty=float(precision @ coefficients[blocks.spans[-1]] ** 2),
        quadratic=quadratic,
    )


def slopes(blocks: Blocks, at: Solution) -> tuple[Array, float]:
    """Return the derivative of the deviance by each variance ratio (k,) and by the residual variance.

    By ratio it is tr(Z'QZ) - |Z'Qy|^2 / variance, with Q the projection of the restricted likelihood
    [Searle1992] chapter 6. The rest uses a form that stays exact at a ratio of 0 and, where levels are
    well known, an equal one that stays exact at large ratios.
    """
    result = np.zeros(len(at.ratios))
    if len(at.ratios):
        kept = 1.0 / (1.0 + at.ratios[0] * blocks.mass)
        left = kept * (blocks.pull - blocks.links @ at.coefficients)
        trace = float(kept @ blocks.mass) - float(np.sum(at.spread * blocks.linked(kept**2)))
        result[0] = trace - float(left @ left) / at.variance
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
