"""The figures of the calibration page, drawn from its numbers."""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, Final

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fleet.calibration.measures import BINS_KPA, Numbers, span
from fleet.science.units import KPA_PER_PSI

INK, SHADE, WARM = "#1c2b33", "#8fa3ad", "#b4552d"
STYLE: Final[dict[Any, Any]] = {
    "svg.hashsalt": "calibration",
    "svg.fonttype": "none",
    "font.family": "sans-serif",
    "font.size": 10,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.edgecolor": INK,
    "axes.labelcolor": INK,
    "text.color": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "legend.frameon": False,
}
Picture = Callable[[Axes, Numbers], None]


def draw(numbers: Numbers, folder: Path) -> None:
    """Draw every figure into a folder, by the names the page uses."""
    folder.mkdir(parents=True, exist_ok=True)
    with mpl.rc_context(STYLE):
        for name, picture in PICTURES.items():
            figure = Figure(figsize=(6.4, 3.6), layout="constrained")
            picture(figure.add_subplot(), numbers)
            figure.savefig(folder / f"{name}.svg", metadata={"Date": None, "Creator": None})


def _pressure_coverage(axes: Axes, numbers: Numbers) -> None:
    rows = numbers["heat"]["by_readings"]
    _promised(axes, (0.8, 0.95))
    for place, level in enumerate(("80 %", "95 %")):
        for name, mark in (("hot", "o"), ("start", "s")):
            shares = [row[f"{name}_covered"][place] for row in rows]
            label = f"{'hot pressure' if name == 'hot' else 'start pressure needed'}, {level}"
            axes.plot(
                shares, mark, color=INK if name == "hot" else WARM, mfc="none" if place else None, label=label
            )
    axes.set(ylim=(0.6, 1.0), ylabel="share of stints inside the interval")
    _by(axes, rows, "readings of that tire spec before")
    axes.legend(loc="lower right", ncols=2)


def _within_psi(axes: Axes, numbers: Numbers) -> None:
    rows = numbers["heat"]["by_readings"]
    ways = {
        "guidance": ("within_psi", INK),
        "the pressure that was right the first time": ("within_psi_as_always", SHADE),
    }
    ways["1 psi per 10 F"] = ("within_psi_by_rule", WARM)
    for number, (label, (name, color)) in enumerate(ways.items()):
        heights = [row[name] or np.nan for row in rows]
        axes.bar(np.arange(len(rows)) + 0.27 * (number - 1), heights, 0.25, color=color, label=label)
    axes.axhline(0.9, color=INK, linewidth=0.8, linestyle="--")
    axes.set(ylim=(0, 1), ylabel="share of stints within 1 psi of the target")
    _by(axes, rows, "readings of that tire spec before")
    axes.legend(loc="upper center", bbox_to_anchor=(0.5, 1.2), ncols=3)


def _off(axes: Axes, numbers: Numbers) -> None:
    middle = (BINS_KPA[1:] + BINS_KPA[:-1]) / 2
    shares = numbers["heat"]["off_share"]
    axes.axvspan(-KPA_PER_PSI, KPA_PER_PSI, color=SHADE, alpha=0.2, linewidth=0)
    axes.step(
        middle,
        shares["as_always"],
        where="mid",
        color=SHADE,
        label="the pressure that was right the first time",
    )
    axes.step(middle, shares["by_rule"], where="mid", color=WARM, label="1 psi per 10 F")
    axes.step(middle, shares["guidance"], where="mid", color=INK, linewidth=2, label="guidance")
    axes.set(
        xlabel="hot pressure less its target, kPa (shaded: within 1 psi; the ends hold what lies beyond)",
        ylabel="share of stints",
        ylim=(0, None),
    )
    axes.legend()


def _life_coverage(axes: Axes, numbers: Numbers) -> None:
    rows = numbers["wear"]["by_lived"]
    _promised(axes, (0.8, 0.95))
    axes.plot([row["km_covered"][0] for row in rows], "o", color=INK, label="distance, 80 %")
    axes.plot([row["km_covered"][1] for row in rows], "o", color=INK, mfc="none", label="distance, 95 %")
    axes.plot([row["days_covered"] for row in rows], "s", color=WARM, label="riding days, 80 %")
    axes.set(ylim=(0.6, 1.0), ylabel="share of tires inside the interval")
    _by(axes, rows, "share of the tire's life behind it")
    axes.legend(loc="lower right", ncols=3)


def _chance(axes: Axes, numbers: Numbers) -> None:
    rows = [row for row in numbers["wear"]["chance"] if row["times"]]
    axes.plot([0, 1], [0, 1], color=SHADE, linewidth=1)
    axes.plot([row["said"] for row in rows], [row["did"] for row in rows], "o-", color=INK)
    for row in rows:
        axes.annotate(
            f"{row['times']:,}", (row["said"], row["did"]), (4, -10), textcoords="offset points", fontsize=7
        )
    axes.set(
        xlabel="chance to last the next day, as told",
        ylabel="share that lasted",
        xlim=(0, 1.02),
        ylim=(0, 1.02),
    )


def _promised(axes: Axes, levels: Sequence[float]) -> None:
    for level in levels:
        axes.axhspan(level - 0.03, level + 0.03, color=SHADE, alpha=0.2, linewidth=0)
        axes.axhline(level, color=SHADE, linewidth=1)


def _by(axes: Axes, rows: Sequence[dict[str, Any]], label: str) -> None:
    axes.set_xticks(range(len(rows)), [span(row) for row in rows])
    axes.set_xlabel(label)


PICTURES: Final[dict[str, Picture]] = {
    "pressure-coverage": _pressure_coverage,
    "within-1-psi": _within_psi,
    "off-target": _off,
    "life-coverage": _life_coverage,
    "chance-to-last": _chance,
}
