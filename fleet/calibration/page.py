"""The calibration page: what was played, what came of it, and what that does not show."""

import json
from collections.abc import Iterable, Sequence
from importlib import import_module
from pathlib import Path
from typing import Final

from fleet.calibration import heat_season, heat_world, wear_season, wear_world
from fleet.calibration.measures import Numbers, span

REPORT: Final = Path(__file__).parent / "report"

INTRODUCTION: Final = """# Do the figures keep what they promise?

This page is made by `python manage.py calibrate`; change nothing here by hand. It plays seasons in which the truth is richer
than the models that have to learn it, lets everybody follow the service's figures, and counts how often the truth lay inside
the intervals that were shown. The same science answers as in the service, fed step by step as the service feeds it.

What it shows is that the figures are honest about a world like this one. The world is invented: the sizes of its disturbances
are choices, common practice, no published source, and were settled together with the model's own assumptions. It does not
show that real tires behave like this; only readings of real tires can. Where the world is rougher or calmer than the model
assumes, the intervals are too narrow or too wide, which the tables with other sizes below show.
"""

HEAT: Final = """## Hot and start pressures

{seasons} seasons of {days} days and {stints} stints a day with {riders} riders on {products} tire specs, at tracks with barometers
of {barometers} kPa. The truth: tread and gas as two masses with time constants of their own for every spec; gusts, clouds, and
observations half an hour apart; riders who push, rest, and change pace from lap to lap, and tell their effort in
{told:.0%} of the stints; soft tires that flex themselves hotter; tires that stand in the sun; {measured:.0%} of the riders measure the
tire when they set it; gauges off by {offset:g} kPa (one standard deviation), compared by {compared:.0%} of the riders; hot readings
late by some minutes, missing in {missed:.0%} of the stints and with a mistaken time in {mistaken:.0%}; stints cut short. Half-way
through the season everybody tries other tires.

Of the stints that used their slot, after ten readings of a spec, the hot pressure came within 1 psi of its target in
**{within:.1%}** with the guidance, in **{always:.1%}** with the pressure that was exactly right the first time on this tire, and in
**{rule:.1%}** by "1 psi per 10 F" from how hot the tire got that first time. All three are set by the same gauges and hands.
"""

WEAR: Final = """## Distance, days, and the chance to last

{fleets} fleets of {tires} tires each, asked after every riding day until they are told to stand down or anybody would see that
the tread is gone; {earlier} earlier tires of each fleet were learned from. The truth: wear that bends (of tires as a spread
{bend:g}), another wear every day ({day:.0%}), with effort to a power between 2 and 4, by zone; {unlogged:.0%} of the distance never
logged; depth read after {read:.0%} of the days, to a tenth of a millimeter, by hands that read {hand:g} mm high or low, in
{mixed:.0%} from the wrong end.

Of the tires told to stand down, {stopped:.1%} would have lasted another day.
"""

LIMITS: Final = """## What this does not show

- Real tires. Every size above is invented; only what a fleet itself reads can decide.
- Grip. A chance to last is about tread; heat cycles and age are guidelines with no measured truth to compare with here.
- Readings shared by one estimate are dependent, so a single season scatters more than these averages.
- A season's first stints: before the first reading of a spec the interval rests on practice alone and is wider than this
  world needs.
"""


def write(numbers: Numbers, folder: Path) -> None:
    """Write numbers, figures and page into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "numbers.json").write_text(json.dumps(numbers, indent=1) + "\n")
    (folder / "README.md").write_text(page(numbers))
    import_module("fleet.calibration.pictures").draw(
        numbers, folder
    )  # matplotlib comes with the test parts only


def page(numbers: Numbers) -> str:
    """Return the page as Markdown."""
    heat, wear = numbers["heat"], numbers["wear"]
    parts = [
        INTRODUCTION,
        _heat_words(numbers),
        "![Share of stints within one psi](within-1-psi.svg)\n\n![Hot pressure less target](off-target.svg)\n",
        _pressures(
            "readings before", [(span(row), row) for row in heat["by_readings"]] + [("all", heat["all"])]
        ),
        "![Coverage of pressure intervals](pressure-coverage.svg)\n",
        *_other_sizes(numbers),
        _wear_words(numbers),
        _lives([(span(row), row) for row in wear["by_lived"]] + [("all", wear["all"])]),
        "![Coverage of distance and days](life-coverage.svg)\n\n![Chance to last](chance-to-last.svg)\n",
        _chances(wear["chance"]),
        *_bends(numbers),
        LIMITS,
    ]
    return "\n".join(parts)


def _heat_words(numbers: Numbers) -> str:
    size, enough = heat_world.Size(), numbers["heat"]["enough_readings"]
    return HEAT.format(
        seasons=numbers["seasons"],
        days=heat_season.DAYS,
        stints=heat_season.STINTS_A_DAY,
        riders=heat_world.RIDERS,
        products=len(heat_world.PRODUCTS),
        barometers=", ".join(f"{kpa:g}" for kpa in heat_world.BAROMETERS_KPA),
        told=size.effort_told_share,
        measured=size.takes_temperature_share,
        offset=size.unknown_offset_kpa,
        compared=size.compared_share,
        missed=size.missed_share,
        mistaken=size.mistaken_share,
        within=enough["within_psi"],
        always=enough["within_psi_as_always"],
        rule=enough["within_psi_by_rule"],
    )


def _wear_words(numbers: Numbers) -> str:
    size = wear_world.Size()
    return WEAR.format(
        fleets=numbers["seasons"],
        tires=wear_season.TIRES,
        earlier=wear_season.EARLIER_TIRES,
        bend=size.bend,
        day=size.day_log,
        unlogged=size.unlogged_share,
        read=size.read_share,
        hand=size.reader_mm,
        mixed=size.mixed_up_share,
        stopped=numbers["wear"]["stopped"]["would_have_lasted"],
    )


def _pressures(first: str, rows: Iterable[tuple[str, Numbers]]) -> str:
    heads = [
        first,
        "stints",
        "hot 80 %",
        "hot 95 %",
        "start 80 %",
        "start 95 %",
        "within 1 psi",
        "as always",
        "by rule",
    ]
    lines = [
        [
            name,
            f"{row['stints']:,}",
            *map(_percent, (*row["hot_covered"], *row["start_covered"])),
            *map(_percent, (row["within_psi"], row["within_psi_as_always"], row["within_psi_by_rule"])),
        ]
        for name, row in rows
    ]
    return _table(heads, lines)


def _lives(rows: Iterable[tuple[str, Numbers]]) -> str:
    heads = ["life behind", "times asked", "distance 80 %", "distance 95 %", "days 80 %", "median off by"]
    lines = [
        [
            name,
            f"{row['times']:,}",
            *map(_percent, (*row["km_covered"], row["days_covered"])),
            f"{row['km_error_share']:+.1%}",
        ]
        for name, row in rows
    ]
    return _table(heads, lines)


def _chances(rows: Iterable[Numbers]) -> str:
    lines = [
        [f"{row['times']:,}", _percent(row["said"]), _percent(row["did"])] for row in rows if row["times"]
    ]
    return _table(["times told", "chance told, on average", "lasted"], lines)


def _other_sizes(numbers: Numbers) -> list[str]:
    sizes = numbers["heat_by_size"]
    words = "With disturbances of other sizes, of which the model is not told, in {} seasons each:\n"
    rows = [(times, part["all"]) for times, part in sizes.items()]
    return [words.format(numbers["seasons_varied"]), _pressures("times", rows)] if sizes else []


def _bends(numbers: Numbers) -> list[str]:
    bends = numbers["wear_by_bend"]
    words = (
        "Where the wear of all tires bends the same way, half-worn tires are told too little where it slows down, which "
        "is the safe side, and **too much where it quickens**, as a share of the whole life:\n"
    )
    heads = ["mean bend", "median off by", "distance 80 %", "distance 95 %", "days 80 %"]
    lines = [
        [
            name,
            f"{part['half_worn_error_share']:+.1%}",
            *map(_percent, (*part["all"]["km_covered"], part["all"]["days_covered"])),
        ]
        for name, part in {f"{wear_world.Size().bend_mean:g} (as above)": numbers["wear"], **bends}.items()
    ]
    return [words, _table(heads, lines)] if bends else []


def _table(heads: Sequence[str], lines: Iterable[Sequence[str]]) -> str:
    rows = [heads, ["---", *["---:"] * (len(heads) - 1)], *lines]
    return "\n".join("| " + " | ".join(row) + " |" for row in rows) + "\n"


def _percent(share: float | None) -> str:
    return "-" if share is None else f"{share:.1%}"
