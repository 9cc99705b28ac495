"""Partial pooling: what is known about each level of several factors, and how surely.

The model is y = x beta + sum of z_k u_k + e with u_k ~ N(0, sd_k^2) for each level of factor k and
e ~ N(0, residual_sd^2 / weight), the factors crossed freely. The standard deviations maximise the
restricted likelihood [Bates2015] section 3, with the largest factor eliminated by a Schur
complement; its gradient is that of [Searle1992] chapter 6. Effects are best linear unbiased predictions
and their standard deviations are those of the prediction error [Henderson1975].
"""

from fleet.science.pooling.codes import encode
from fleet.science.pooling.fitting import fit
from fleet.science.pooling.pooled import Pooled, Prediction
from fleet.science.pooling.prior import Prior

__all__ = ["Pooled", "Prediction", "Prior", "encode", "fit"]
