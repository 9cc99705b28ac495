"""What an owner reads of a tire besides its state: the line of its tread, heat cycles with why, and what it gave."""

from datetime import datetime
from typing import Any, Final

from fleet.accounts.models import Person
from fleet.life.forecasts import Forecast
from fleet.life.histories import History
from fleet.life.usage import Warming, practice_for, warmings_of
from fleet.life.yields import others_cost, others_on, yields_of
from fleet.pages.charts import Band
from fleet.pages.units import depth_unit, distance_unit
from fleet.running.models import Stint

HOUR: Final = 60.0
DAY: Final = 24 * HOUR


def story(
    by: Person, history: History, forecast: Forecast, stints: list[Stint], since: datetime | None
) -> dict[str, Any]:
    """Return the parts of a tire's page that only its owner sees, and the line everybody sees who sees its life."""
    row = history.tire
    is_own = row.owner.person_id == by.pk
    context: dict[str, Any] = {
        "forecast": forecast if forecast.points[-1].middle_km > 0.0 else None,
        "band": _band(by, forecast),
        "is_own": is_own,
    }
    if is_own:
        yields = yields_of(row.owner, row.spec.axle)
        context |= {
            "warmings": _warmings(history, stints),
            "cycles_before": sum(
                one.is_counted and since is not None and one.run.started_at < since
                for one in warmings_of(history)
            ),
            "yield": next((one for one in yields if one.tire.pk == row.pk), None),
            "other_yields": [one for one in yields if one.tire.pk != row.pk][:6],
            "others": others_on(row),
            "others_cost": others_cost(row),
            "known": practice_for(row.spec),
        }
    return context


def _band(by: Person, forecast: Forecast) -> Band:
    deep, far = depth_unit(by), distance_unit(by)
    return Band(
        [
            (
                deep.shown(point.depth_mm),
                far.shown(point.low_km),
                far.shown(point.middle_km),
                far.shown(point.high_km),
            )
            for point in forecast.points
        ]
    )


def _warmings(history: History, stints: list[Stint]) -> list[dict[str, Any]]:
    """Return each run with its stint and why a heat cycle was counted in it or not, the newest first."""
    by_id = {stint.pk: stint for stint in stints}
    known = practice_for(history.tire.spec)
    return [
        {"stint": by_id[one.run.stint_id], "warming": one, "why": _why(one, known.working_c, known.cooled_c)}
        for one in reversed(warmings_of(history))
        if one.run.stint_id in by_id
    ]


def _why(one: Warming, working_c: float, cooled_c: float) -> str:
    if one.is_denied:
        return "You said it did not warm through, so none is counted."
    if one.is_counted and one.idle_min is None:
        return "The first time it got to working temperature."
    if one.is_counted:
        return f"It had {_lasted(one.idle_min or 0.0)} to cool, and got to working temperature again."
    if one.reached_c < working_c:
        return f"{one.run.minutes:.0f} minutes were too short to get to working temperature."
    if one.coldest_c > cooled_c:
        kept = "warmers kept it warm" if one.run.warmers_c is not None else "it was still warm"
        return f"Part of the cycle before: after {_lasted(one.idle_min or 0.0)} {kept}."
    return "Part of the cycle before."


def _lasted(minutes: float) -> str:
    if minutes < HOUR:
        return f"{minutes:.0f} minutes"
    if minutes < DAY:
        return f"{minutes // HOUR:.0f} h {minutes % HOUR:.0f} min"
    days = round(minutes / DAY)
    return f"{days} day{'s' if days > 1 else ''}"
