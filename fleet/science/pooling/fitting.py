"""From rows to what they say about every level."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleet.science.pooling.absorption import shrinkage
from fleet.science.pooling.assembly import build
from fleet.science.pooling.blocks import Blocks, quadratic
from fleet.science.pooling.inputs import (
    Rows,
    read_rows,
    read_sds,
    refuse_explained,
    refuse_foreign_prior,
    refuse_undetermined,
)
from fleet.science.pooling.likelihood import Solution, solve
from fleet.science.pooling.pooled import Joint, Pooled
from fleet.science.pooling.prior import Prior
from fleet.science.pooling.search import believed, restricted

Array = NDArray[np.float64]

COLLINEAR = 1e-12
"""Smallest eigenvalue of the scaled cross product of x under which its columns count as dependent."""


def fit(
    y: ArrayLike,
    x: ArrayLike,
    groups: Mapping[str, ArrayLike],
    *,
    weights: ArrayLike | None = None,
    prior: Prior | None = None,
    sds: Mapping[str, float] | None = None,
    dofs: Mapping[str, float] | None = None,
    eliminate: str | None = None,
) -> Pooled:
    """Return the linear mixed model of y on x with crossed random levels, by restricted likelihood.

    Parameters
    ----------
    y : array_like, shape (n,)
        Observations, finite.
    x : array_like, shape (n, p)
        Fixed effects, a column of ones included where a mean is wanted; finite.
    groups : mapping of str to array_like of int, shape (n,)
        Integer codes from 0 per factor (see ``encode``); -1 is an unknown level, each such row a level of
        its own. At most 5,000 levels outside the largest factor.
    weights : array_like, shape (n,), optional
        Above 0; the residual variance of a row is ``residual_sd**2 / weight``.
    prior : Prior, optional
        Without it the plain restricted likelihood [Bates2015]; with it no rows at all are enough.
    sds : mapping of str to float, optional
        Hold these standard deviations (every factor and "residual") and solve for the effects only.
    dofs : mapping of str to float, optional
        ``Pooled.dof`` of the fit that ``sds`` came from; without it held ones count as known.
    eliminate : str, optional
        The factor to eliminate; the largest unless named. The result does not depend on it.

    Returns
    -------
    Pooled

    Raises
    ------
    ValueError
        Naming the argument, the limit and the value: lengths that differ, values that are not finite, codes
        under -1, weights not above 0, dependent columns of x, too few rows or levels without a prior.
    """
    rows = read_rows(y, x, groups, weights)
    if prior is not None:
        refuse_foreign_prior(prior, rows)
    elif sds is None:
        refuse_undetermined(rows)
    if eliminate is not None and eliminate not in rows.codes:
        raise ValueError(f"eliminate must be one of {', '.join(rows.codes)}, got {eliminate}")
    p = rows.x.shape[1]
    precision = np.zeros(p) if prior is None else prior.sds**-2.0
    base = _base(rows, precision, np.zeros(p) if prior is None else prior.means)
    blocks = build(rows, rows.y - rows.x @ base, eliminate)
    if sds is not None:
        values = read_sds(sds, blocks.names)
        solution = solve(blocks, (values[:-1] / values[-1]) ** 2, precision, float(values[-1] ** 2))
    elif prior is not None:
        solution = believed(blocks, precision, prior)
    else:
        refuse_explained(rows, blocks.total)
        solution = restricted(blocks)
    return _pooled(rows, blocks, solution, base, _dof(rows, prior, dofs, held=sds is not None))


def _base(rows: Rows, precision: Array, means: Array) -> Array:
    """Return fixed effects to subtract first: prior means, and least squares where nothing is believed.

    The fit is the same from any base; from this one it loses no digits to a distant origin.
    """
    flat = precision == 0.0
    base = np.where(flat, 0.0, means)
    if not flat.any():
        return base
    columns = rows.x[:, flat] * np.sqrt(rows.weights)[:, None]
    square = columns.T @ columns
    scale = np.sqrt(np.diag(square))
    if not (scale > 0.0).all() or np.linalg.eigvalsh(square / np.outer(scale, scale)).min() < COLLINEAR:
        raise ValueError(
            f"x must have linearly independent columns over the rows where no prior is given for them, "
            f"got {int(flat.sum())} columns over {len(rows.y)} rows that are not"
        )
    base[flat] = np.linalg.lstsq(columns, (rows.y - rows.x @ base) * np.sqrt(rows.weights))[0]
    return base


def _dof(
    rows: Rows, prior: Prior | None, dofs: Mapping[str, float] | None, *, held: bool
) -> dict[str, float]:
    if held:
        missing = sorted(set(rows.codes) - set(dofs)) if dofs is not None else []
        if missing:
            raise ValueError(f"dofs must name every factor, got none for {', '.join(missing)}")
        return {name: np.inf if dofs is None else float(dofs[name]) for name in rows.codes}
    strength = 0.0 if prior is None else prior.strength
    return {name: max(levels - 1, 0) + strength for name, levels in rows.seen.items()}


def _pooled(rows: Rows, blocks: Blocks, solution: Solution, base: Array, dof: dict[str, float]) -> Pooled:
    fixed = blocks.spans[-1]
    coefficients = solution.coefficients.copy()
    coefficients[fixed] += base
    shrink = shrinkage(float(solution.ratios[0]) if blocks.names else 0.0, blocks.mass)
    left = blocks.links @ np.append(-solution.coefficients, 1.0)
    joint = Joint(
        names=blocks.names,
        spans=blocks.spans,
        main=shrink * left,
        shrink=shrink,
        own=solution.variance * shrink,
        links=blocks.links[:, :-1],
        coefficients=coefficients,
        covariance=solution.variance * solution.spread,
    )
    sds = dict(zip(blocks.names, np.sqrt(solution.variance * solution.ratios).tolist(), strict=True))
    effects, errors = _effects(rows, joint)
    return Pooled(
        sd={name: sds[name] for name in rows.codes},
        residual_sd=float(np.sqrt(solution.variance)),
        fixed=coefficients[fixed],
        fixed_cov=joint.covariance[fixed, fixed],
        effects=effects,
        effect_sds=errors,
        counts=rows.counts,
        dof=dof,
        rows=len(rows.y),
        reml_deviance=solution.deviance,
        joint=joint,
    )


def _effects(rows: Rows, joint: Joint) -> tuple[dict[str, Array], dict[str, Array]]:
    """Return effects and standard deviations of their errors, the level never seen left out."""
    every = dict(zip(joint.names[1:], (joint.coefficients[span] for span in joint.spans), strict=False))
    spread = dict(
        zip(joint.names[1:], (np.diag(joint.covariance)[span] for span in joint.spans), strict=False)
    )
    if joint.names:
        every[joint.names[0]] = joint.main
        spread[joint.names[0]] = joint.own + joint.shrink**2 * quadratic(joint.links, joint.covariance)
    levels = rows.levels
    return (
        {name: every[name][: levels[name]] for name in rows.codes},
        {name: np.sqrt(np.maximum(spread[name][: levels[name]], 0.0)) for name in rows.codes},
    )
