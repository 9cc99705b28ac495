"""``manage.py life``: tires near their end, with the limit that binds and the days that are left."""

import json
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.db.models import QuerySet
from django.utils import timezone
from rich.table import Table

from fleet.accounts.policy import SERVICE
from fleet.console import run_shown, show
from fleet.life.assessments import assess_in_steps, stale_tires
from fleet.life.models import Assessment, State
from fleet.life.queries import in_use, newest_assessments

NEAR_THE_END = (State.PLAN_A_CHANGE, State.LAST_DAY, State.STAND_DOWN)


class Command(BaseCommand):
    """Assess what changed, then print the tires on wheels, the nearest to their end first."""

    help = "Tires near their end: state, binding limit, riding days left with 10-90 % interval."

    def add_arguments(self, parser: CommandParser) -> None:
        """Declare the options."""
        parser.add_argument(
            "--all", action="store_true", help="every tire on a wheel, not only those near their end"
        )
        parser.add_argument("--rider", metavar="CODE", help="only the tires of one rider")
        parser.add_argument(
            "--json", action="store_true", help="for programs: SI units, unit names in the keys"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Run the command."""
        at = timezone.now()
        run_shown(assess_in_steps(stale_tires(), at=at), "Assessing tires", quiet=options["json"])
        rows = in_use(newest_assessments(SERVICE, on=at.date()))
        if not options["all"]:
            rows = rows.filter(state__in=NEAR_THE_END)
        if options["rider"]:
            rows = rows.filter(tire__owner__code=options["rider"])
        if options["json"]:
            self.stdout.write(json.dumps([as_data(row) for row in rows], indent=2))
        else:
            show(table_of(rows), self.stdout)


def as_data(row: Assessment) -> dict[str, Any]:
    """Return one assessment for programs."""
    tire = row.tire
    return {
        "tire": tire.label_code,
        "spec": tire.spec.code,
        "axle": tire.spec.axle,
        "rider": tire.owner.code,
        "state": row.state,
        "binding_limit": row.binding_limit,
        "remaining_days_p10": row.remaining_days_10,
        "remaining_days_p50": row.remaining_days_50,
        "remaining_days_p90": row.remaining_days_90,
        "chance_to_last_next_day": row.chance_next_day,
        "distance_km": row.distance_km,
        "road_km": row.road_km,
        "heat_cycles": row.heat_cycles,
        "depth_mm": row.depth_mm,
        "depth_zone": row.depth_zone,
        "age_years": row.age_years,
        "readings": row.readings,
        "assessed_at": row.assessed_at.isoformat(),
        "provenance": row.provenance,
    }


def table_of(rows: QuerySet[Assessment]) -> Table:
    """Return the assessments as a table for people."""
    table = Table(
        title="Tires on wheels, the nearest to their end first", caption="Riding days, median and 10-90 %"
    )
    for name in ("Tire", "Spec", "Rider", "State", "Limit", "Depth", "Distance", "Cycles"):
        table.add_column(name)
    table.add_column("Days left", justify="right")
    for row in rows:
        depth = "-" if row.depth_mm is None else f"{row.depth_mm:.1f} mm {row.depth_zone}"
        table.add_row(
            row.tire.label_code,
            f"{row.tire.spec} {row.tire.spec.axle}",
            row.tire.owner.name,
            row.state,
            row.binding_limit,
            depth,
            f"{row.distance_km:.0f} km",
            str(row.heat_cycles),
            f"{row.remaining_days_50:.1f} ({row.remaining_days_10:.1f}-{row.remaining_days_90:.1f})",
        )
    return table
