"""What was learned, and what it says about a level, known or not."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import sparse, stats

from fleet.science.pooling.blocks import quadratic
from fleet.science.pooling.inputs import UNSEEN, refuse_non_finite

Array = NDArray[np.float64]


class Prediction(NamedTuple):
    """A line's expected value and its standard deviation, one per asked row, in the unit of y."""

    mean: Array
    sd: Array


@dataclass(frozen=True)
class Joint:
    """Effects with the joint covariance of their errors, in the unit of y.

    Each factor's last level belongs to no row and stands for a level never seen.

    Attributes
    ----------
    names : factors, the eliminated one first
    spans : place of every other factor, and last of the fixed effects, in ``coefficients``
    main : (q,) effects of the eliminated factor
    shrink : (q,) how far each eliminated level follows what is left for it
    own : (q,) error variance of each eliminated level, the rest known
    links : (q, m) weights that carry errors of the rest into eliminated levels
    coefficients, covariance : (m,), (m, m) effects of the rest and covariance of their errors
    """

    names: tuple[str, ...]
    spans: tuple[slice, ...]
    main: Array
    shrink: Array
    own: Array
    links: sparse.csr_array
    coefficients: Array
    covariance: Array

    def rows(
        self, x: Array, codes: Mapping[str, NDArray[np.intp]]
    ) -> tuple[sparse.csr_array, NDArray[np.intp]]:
        """Return what the asked rows take of the rest, (n, m), and their eliminated levels (n,)."""
        level = codes[self.names[0]] if self.names else np.full(len(x), UNSEEN)
        level = np.where(level < 0, len(self.main) - 1, level)
        parts = []
        for name, span in zip(self.names[1:], self.spans[:-1], strict=True):
            size = span.stop - span.start
            column = np.where(codes[name] < 0, size - 1, codes[name])
            parts.append(sparse.csr_array((np.ones(len(x)), (np.arange(len(x)), column)), (len(x), size)))
        rest = sparse.csr_array(sparse.hstack([*parts, sparse.csr_array(x)], format="csr"))
        return rest, level

    def carried(self, rest: sparse.csr_array, level: NDArray[np.intp]) -> sparse.csr_array:
        """Return how errors of the rest reach the asked rows, directly and through eliminated levels."""
        through = sparse.csr_array(sparse.diags_array(self.shrink[level]) @ self.links[level])
        return sparse.csr_array(rest - through)

    def variance(self, rest: sparse.csr_array, level: NDArray[np.intp]) -> Array:
        """Return the prediction error variance of rows asked as by ``rows``, shape (n,)."""
        return quadratic(self.carried(rest, level), self.covariance) + self.own[level]


@dataclass(frozen=True)
class Pooled:
    """A fitted line per combination of levels, with everything needed to judge it.

    Attributes
    ----------
    sd : standard deviation of each factor's levels, exactly 0 at the boundary
    residual_sd : standard deviation of a row of weight 1
    fixed, fixed_cov : (p,), (p, p) fixed effects and their covariance
    effects, effect_sds : per factor (levels,) predicted effects and the standard deviation of their errors
        (prediction error, uncertainty of the fixed effects included [Henderson1975])
    counts : per factor (levels,) number of rows
    dof : per factor the degrees of freedom behind its standard deviation: levels seen less one, plus the
        strength of the prior; infinite where the standard deviation was held as known
    rows : number of rows
    reml_deviance : minus twice the log of the restricted likelihood; with a prior, of the likelihood with
        the fixed effects averaged over it (the prior of the standard deviations is left out)
    """

    sd: dict[str, float]
    residual_sd: float
    fixed: Array
    fixed_cov: Array
    effects: dict[str, Array]
    effect_sds: dict[str, Array]
    counts: dict[str, NDArray[np.int64]]
    dof: dict[str, float]
    rows: int
    reml_deviance: float
    joint: Joint = field(repr=False)

    def predict(
        self, x: ArrayLike, groups: Mapping[str, ArrayLike], *, observation: bool = False
    ) -> Prediction:
        """Return mean and standard deviation of lines, or of single observations on them.

        Parameters
        ----------
        x : array_like, shape (n, p)
        groups : mapping of str to array_like of int, shape (n,) or a single code
            Codes of the fit; -1 is a level never seen: its effect is 0 give or take the factor's ``sd``.
        observation : bool
            False: the line's expected value, without residual noise. True: one observation of weight 1.

        Returns
        -------
        Prediction
            ``sd`` covers the errors of fixed and random effects with all their covariances.

        Raises
        ------
        ValueError
            A missing factor, a code outside the fit, or a wrong shape.
        """
        design, codes = self._asked(x, groups)
        rest, level = self.joint.rows(design, codes)
        mean = np.asarray(rest @ self.joint.coefficients + self.joint.main[level], dtype=np.float64)
        variance = self.joint.variance(rest, level) + (self.residual_sd**2 if observation else 0.0)
        return Prediction(mean, np.sqrt(np.maximum(variance, 0.0)))

    def difference(
        self,
        x: ArrayLike,
        groups: Mapping[str, ArrayLike],
        other_x: ArrayLike,
        other_groups: Mapping[str, ArrayLike],
    ) -> Prediction:
        """Return mean and standard deviation of lines less other lines, row by row.

        What both sides share cancels, also a level never seen: -1 on both sides is the same one.
        """
        design, codes = self._asked(x, groups)
        other_design, other_codes = self._asked(other_x, other_groups)
        rest, level = self.joint.rows(design, codes)
        other_rest, other_level = self.joint.rows(other_design, other_codes)
        mean = (
            (rest - other_rest) @ self.joint.coefficients
            + self.joint.main[level]
            - self.joint.main[other_level]
        )
        carried = self.joint.carried(rest, level) - self.joint.carried(other_rest, other_level)
        own = np.where(level == other_level, 0.0, self.joint.own[level] + self.joint.own[other_level])
        variance = quadratic(sparse.csr_array(carried), self.joint.covariance) + own
        return Prediction(np.asarray(mean, dtype=np.float64), np.sqrt(np.maximum(variance, 0.0)))

    def df(self, groups: Mapping[str, ArrayLike]) -> Array:
        """Return the degrees of freedom for each asked row: the least ``dof`` among its levels never seen.

        Infinite where every level is known. Factors whose ``sd`` is 0 do not count.
        """
        columns = (
            np.broadcast_arrays(*(np.asarray(groups[name]) for name in self.sd)) if self.sd else [np.zeros(1)]
        )
        result = np.full(columns[0].shape, np.inf)
        for name, column in zip(self.sd, columns, strict=False):
            if self.sd[name] > 0.0:
                result = np.where(column == UNSEEN, np.minimum(result, max(self.dof[name], 1.0)), result)
        return result

    def quantile(
        self, prob: ArrayLike, x: ArrayLike, groups: Mapping[str, ArrayLike], *, observation: bool = False
    ) -> Array:
        """Return quantiles of lines or observations, shape (n,) or that of ``prob`` broadcast with it.

        Normal where all levels are known; Student's t with ``df(groups)`` degrees of freedom where one was
        never seen, because its spread is itself known from few levels only.

        Raises
        ------
        ValueError
            As ``predict``, or a probability not between 0 and 1.
        """
        share = np.asarray(prob, dtype=np.float64)
        if not ((share > 0.0) & (share < 1.0)).all():
            raise ValueError(f"prob must be above 0 and below 1, got {share.tolist()}")
        mean, sd = self.predict(x, groups, observation=observation)
        return np.asarray(mean + sd * stats.t.ppf(share, self.df(groups)), dtype=np.float64)

    def _asked(
        self, x: ArrayLike, groups: Mapping[str, ArrayLike]
    ) -> tuple[Array, dict[str, NDArray[np.intp]]]:
        design = np.asarray(x, dtype=np.float64)
        if design.ndim != 2 or design.shape[1] != len(self.fixed):  # noqa: PLR2004
            raise ValueError(f"x must have shape (rows, {len(self.fixed)}), got {design.shape}")
        refuse_non_finite("x", design)
        return design, {name: self._codes(name, groups, len(design)) for name in self.sd}

    def _codes(self, name: str, groups: Mapping[str, ArrayLike], rows: int) -> NDArray[np.intp]:
        if name not in groups:
            raise ValueError(f"groups must name every factor of the fit, got none for {name}")
        codes = np.asarray(groups[name])
        if codes.dtype.kind not in "iu" or codes.shape not in {(), (rows,)}:
            raise ValueError(
                f"groups[{name!r}] must be {rows} integer codes, got {codes.dtype} {codes.shape}"
            )
        levels = len(self.effects[name])
        if ((codes < UNSEEN) | (codes >= levels)).any():
            raise ValueError(
                f"groups[{name!r}] must be from -1 to {levels - 1}, got {codes.min()} to {codes.max()}"
            )
        return np.broadcast_to(codes, (rows,)).astype(np.intp)
