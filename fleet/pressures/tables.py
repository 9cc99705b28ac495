"""Guidance and bulletins as tables for people and as data for programs."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from rich.table import Table

from fleet.pressures.models import Bulletin, Guidance, GuidanceLine
from fleet.science.units import KPA_PER_PSI

COLUMNS: Final = (
    "Part",
    "Group",
    "Tire",
    "Axle",
    "Set",
    "80 %",
    "Hot",
    "Tire at",
    "Rests on",
    "Readings",
    "Remark",
)
LINE_FIELDS: Final = (
    "axle",
    "uses_warmers",
    "start_kpa",
    "low_kpa",
    "high_kpa",
    "shown_kpa",
    "hot_target_kpa",
    "expected_hot_kpa",
    "tire_c",
    "expected_gas_c",
    "limit_hit",
    "basis",
    "readings",
    "moved_kpa",
    "moved_because",
)


def guidance_data(guidance: Guidance, lines: Sequence[GuidanceLine]) -> dict[str, Any]:
    """Return guidance for programs: SI units, unit names in the keys."""
    conditions = guidance.conditions
    return {
        "event": guidance.day.event.code,
        "date": guidance.day.date.isoformat(),
        "computed_at": guidance.computed_at.isoformat(),
        "air_c": conditions.air_c,
        "track_surface_c": conditions.track_surface_c,
        "track_surface_standing": conditions.track_surface_standing,
        "barometer_kpa": conditions.barometer_kpa,
        "assumptions": guidance.assumptions,
        "lines": [
            {
                "part": line.part.name,
                "starts_at": line.part.starts_at.isoformat(),
                "ends_at": line.part.ends_at.isoformat(),
                "spec": line.spec.code,
                "group": line.group.name,
                "rider": line.entry.rider.code if line.entry else None,
                **{name: getattr(line, name) for name in LINE_FIELDS},
            }
            for line in lines
        ],
    }


def guidance_table(guidance: Guidance, lines: Sequence[GuidanceLine]) -> Table:
    """Return guidance as a table in psi."""
    conditions = guidance.conditions
    table = _table(
        f"{guidance.day}: draft of {guidance.computed_at:%Y-%m-%d %H:%M} UTC",
        f"air {conditions.air_c:.0f} °C {conditions.standing}, track {conditions.track_surface_c:.0f} °C "
        f"{conditions.track_surface_standing}, {conditions.barometer_kpa:.1f} kPa",
    )
    for line in lines:
        who = f"{line.entry.number} {line.entry.rider.name}" if line.entry else line.group.name
        figures = {name: getattr(line, name) for name in LINE_FIELDS}
        table.add_row(line.part.name, *_cells(who, str(line.spec), figures))
    return table


def bulletin_table(bulletin: Bulletin) -> Table:
    """Return a bulletin as a table in psi."""
    content = bulletin.content
    table = _table(
        f"Bulletin {content['number']} for {content['event']}, {content['date']}, issued {content['issued_at'][:16]} UTC",
        f"{content['cautions'][0]} Digest {bulletin.digest[:12]}.",
    )
    for line in content["lines"]:
        tire = f"{line['maker']} {line['line']} {line['size']} {line['compound']}".strip()
        table.add_row(line.get("part", ""), *_cells(line["group"], tire, line))
    return table


def _table(title: str, caption: str) -> Table:
    table = Table(title=title, caption=caption)
    for name in COLUMNS:
        table.add_column(name, justify="right" if name in {"Set", "80 %", "Hot", "Readings"} else "left")
    return table


def _cells(who: str, tire: str, line: Mapping[str, Any]) -> list[str]:
    remarks = []
    if line["limit_hit"]:
        remarks.append(f"held at the {line['limit_hit']} limit: {_psi(line['expected_hot_kpa'])} hot")
    if line["moved_kpa"] is not None:
        remarks.append(f"{line['moved_kpa'] / KPA_PER_PSI:+.1f} psi: {line['moved_because']}")
    return [
        who,
        tire,
        line["axle"],
        f"{_psi(line['shown_kpa'])} psi",
        f"{_psi(line['low_kpa'])}-{_psi(line['high_kpa'])}",
        _psi(line["hot_target_kpa"]),
        f"{line['tire_c']:.0f} °C" + (" off warmers" if line["uses_warmers"] else ""),
        line["basis"],
        str(line["readings"]),
        "; ".join(remarks),
    ]


def _psi(kpa: float) -> str:
    return f"{kpa / KPA_PER_PSI:.1f}"
