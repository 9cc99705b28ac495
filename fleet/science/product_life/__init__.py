"""Tell how long sets of one product really last, though many still run, were sold, or came part-worn.

Durations carry no unit: riding days or severity km, and every answer is in the same. A set that is worn out tells its
life; one still running, sold or damaged tells only that it lasted at least so long.
"""

from fleet.science.product_life.comparison import LifeDifference, compare
from fleet.science.product_life.lives import Interval
from fleet.science.product_life.survival import Survival, survival_curve
from fleet.science.product_life.weibull import LifePrior, WeibullLife, weibull_life

__all__ = [
    "Interval",
    "LifeDifference",
    "LifePrior",
    "Survival",
    "WeibullLife",
    "compare",
    "survival_curve",
    "weibull_life",
]
