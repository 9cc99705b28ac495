"""Reads of tire tests, narrowed to who asks, and of what a rider opens to those who test their bike."""

import uuid
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Exists, OuterRef, Q, QuerySet

from fleet.accounts.models import Membership, Organisation
from fleet.accounts.policy import Actor, Right, Service, organisations, require, roles_with
from fleet.catalogue.models import AXLES
from fleet.garage.models import Bike, Sharing
from fleet.inventory.models import Fitting
from fleet.running.models import ContourReading, ShapeReading, Stint
from fleet.running.queries import tires_of
from fleet.trials.errors import NotShared
from fleet.trials.models import Run, Side, Step, TireTest

WITH = (
    "organisation",
    "bike__rider",
    "layout__track",
    *(f"{side}_{part}" for side in Side.values for part in ("front__line", "rear__line", "pair__bike")),
)


def trials_for(by: Actor) -> QuerySet[TireTest]:
    """Return the tests somebody may see: those of organisations they test for, and those of their own bikes."""
    rows = TireTest.objects.select_related(*WITH).order_by("-planned_on", "code", "id")
    if isinstance(by, Service):
        return rows
    mine = organisations(by, Right.RUN_TESTS).values("pk")
    return rows.filter(Q(organisation__in=mine) | Q(bike__rider__person=by))


def steps_for(by: Actor) -> QuerySet[Step]:
    """Return the steps of the tests somebody may see."""
    seen = trials_for(by).order_by().values("pk")
    rows = Step.objects.filter(test__in=seen).select_related("test__organisation", "test__bike")
    return rows.order_by("-test__planned_on", "test__code", "position", "id")


def runs_for(by: Actor) -> QuerySet[Run]:
    """Return the runs of the tests somebody may see; testers none of a rider who took the sharing back."""
    rows = Run.objects.select_related(
        "test__organisation", "test__bike__rider", "stint__layout__track", "stint__day", "stint__wheel_pair"
    ).order_by("stint__started_at", "id")
    if isinstance(by, Service):
        return rows
    mine = organisations(by, Right.RUN_TESTS).values("pk")
    opened = Q(test__organisation__in=mine) & is_opened("test__bike__rider", "test__organisation")
    return rows.filter(Q(test__bike__rider__person=by) | opened)


def is_opened(rider: str, organisation: str) -> Q:
    """Return the condition that a rider opens to an organisation's testers: by a sharing, or by being one of them."""
    shared = Sharing.objects.filter(
        rider=OuterRef(rider),
        organisation=OuterRef(organisation),
        scope=Sharing.Scope.STINTS,
        withdrawn_at__isnull=True,
    )
    one_of_them = Membership.objects.filter(
        person__rider=OuterRef(rider),
        organisation=OuterRef(organisation),
        role__in=roles_with(Right.RUN_TESTS),
    )
    return Q(Exists(shared)) | Q(Exists(one_of_them))


def published(public_code: str) -> TireTest | None:
    """Return the test whose report a link shows, as long as the rider opens the bike to those who tested it."""
    shown = TireTest.objects.filter(is_opened("bike__rider", "organisation"), public_code=public_code)
    return shown.select_related(*WITH).first()


def is_open(test: TireTest) -> bool:
    """Return whether the rider of a test still opens stints and readings to the organisation that tests."""
    return TireTest.objects.filter(is_opened("bike__rider", "organisation"), pk=test.pk).exists()


def may_read(by: Actor, test: TireTest) -> bool:
    """Return whether somebody who sees a test reads what was measured in it too: its rider does, testers by sharing."""
    return isinstance(by, Service) or test.bike.rider.person_id == by.pk or is_open(test)


def readable_of(by: Actor, tests: Sequence[TireTest]) -> list[TireTest]:
    """Return those of some tests of which somebody reads what was measured, in one query."""
    opened = TireTest.objects.filter(
        is_opened("bike__rider", "organisation"), pk__in=[one.pk for one in tests]
    )
    known = set(opened.values_list("pk", flat=True))
    return [
        one
        for one in tests
        if isinstance(by, Service) or one.pk in known or one.bike.rider.person_id == by.pk
    ]


def may_test(by: Actor, organisation: Organisation) -> bool:
    """Return whether somebody tests for an organisation."""
    return isinstance(by, Service) or organisations(by, Right.RUN_TESTS).filter(pk=organisation.pk).exists()


def require_opened(by: Actor, test: TireTest) -> None:
    """Refuse to write about a bike whose rider no longer opens it to the testers."""
    if not may_read(by, test):
        raise NotShared(
            f"The rider no longer shares this bike with {test.organisation.name}: ask them to share their stints again, "
            "in their garage under “Who can see my data”."
        )


def require_tester(by: Actor, organisation: Organisation) -> None:
    """Refuse anybody but those who test for an organisation."""
    if not isinstance(by, Service):
        require(by, Right.RUN_TESTS, organisation)


def bikes_to_test(by: Actor) -> list[tuple[Organisation, Bike]]:
    """Return the bikes somebody may plan a test with, each with the organisation it is opened to."""
    found = []
    for organisation in organisations(by, Right.RUN_TESTS).order_by("name"):
        shared = Q(
            rider__sharings__organisation=organisation,
            rider__sharings__scope=Sharing.Scope.STINTS,
            rider__sharings__withdrawn_at__isnull=True,
        )
        testing = Q(
            rider__person__memberships__organisation=organisation,
            rider__person__memberships__role__in=roles_with(Right.RUN_TESTS),
        )
        rows = Bike.objects.filter(shared | testing).select_related("rider").distinct()
        found += [(organisation, bike) for bike in rows.order_by("rider__name", "description", "code")]
    return found


@dataclass(frozen=True)
class TireSet:
    """One of the two sets of a test: the fittings found for its specs on its wheel pair, by axle."""

    side: str
    fittings: dict[str, Fitting]

    @property
    def is_whole(self) -> bool:
        """Return whether both tires are known."""
        return len(self.fittings) == len(AXLES)


def sets_of(test: TireTest) -> dict[str, TireSet]:
    """Return both sets of a test: the tires that ran its first run, else those fitted last of its specs.

    Nothing is stored about it: a set is what was fitted.
    """
    return sets_of_each([test])[test.pk]


def sets_of_each(tests: Sequence[TireTest]) -> dict[uuid.UUID, dict[str, TireSet]]:
    """Return both sets of each of some tests, in two queries however many they are."""
    pairs = {pk for test in tests for pk in (test.baseline_pair_id, test.candidate_pair_id)}
    by_pair: dict[uuid.UUID, list[Fitting]] = defaultdict(list)
    fittings = Fitting.objects.filter(wheel_pair__in=pairs, voided_at__isnull=True)
    for row in fittings.select_related("tire__spec__line").order_by("fitted_at", "id"):
        by_pair[row.wheel_pair_id].append(row)
    first: dict[uuid.UUID, dict[str, Stint]] = defaultdict(dict)
    for run in _standing(Run.objects.filter(test__in=tests)):
        first[run.test_id].setdefault(run.side, run.stint)
    return {
        test.pk: {
            side: _set(test, side, by_pair[test.pair(side).pk], first[test.pk].get(side))
            for side in Side.values
        }
        for test in tests
    }


def _set(test: TireTest, side: str, rows: Sequence[Fitting], first: Stint | None) -> TireSet:
    specs = test.specs(side)
    found: dict[str, Fitting] = {}
    for row in rows:
        if row.tire.spec_id == specs[row.axle].pk and (first is None or _was_on(row, first)):
            found[row.axle] = row
    return TireSet(side, found)


def standing_runs(test: TireTest) -> list[Run]:
    """Return the runs of a test that were not voided, in the order they were ridden."""
    return list(_standing(test.runs.all()))


def _standing(runs: QuerySet[Run]) -> QuerySet[Run]:
    rows = runs.filter(voided_at__isnull=True, stint__voided_at__isnull=True)
    return rows.select_related("stint__layout__track", "stint__day", "stint__wheel_pair").order_by(
        "stint__started_at", "id"
    )


def _was_on(fitting: Fitting, stint: Stint) -> bool:
    return fitting.fitted_at <= stint.started_at and (
        fitting.removed_at is None or fitting.removed_at >= stint.ended_at
    )


def side_of(test: TireTest, stint: Stint) -> str | None:
    """Return on which set of a test a stint ran: by its wheel pair and the specs of its tires."""
    specs = {axle: tire.spec_id for axle, tire in tires_of(stint).items()}
    for side in Side.values:
        wanted = {axle: spec.pk for axle, spec in test.specs(side).items()}
        if stint.wheel_pair_id == test.pair(side).pk and specs == wanted:
            return str(side)
    return None


@dataclass(frozen=True)
class Lengths:
    """What was read last of one set: lengths by axle and quantity, and the outline of each tire."""

    read: dict[tuple[str, str], ShapeReading]
    contours: dict[str, ContourReading]

    def mm(self, axle: str, quantity: str) -> float | None:
        """Return a length in mm, where it was read."""
        row = self.read.get((axle, quantity))
        return row.length_mm if row else None


def lengths_of(tire_set: TireSet) -> Lengths:
    """Return the newest standing readings of a set's lengths and outlines."""
    axle_of: dict[uuid.UUID, str] = {one.tire_id: axle for axle, one in tire_set.fittings.items()}
    shapes = ShapeReading.objects.filter(tire__in=axle_of, voided_at__isnull=True).order_by("taken_at", "id")
    contours = ContourReading.objects.filter(tire__in=axle_of, voided_at__isnull=True).order_by(
        "taken_at", "id"
    )
    return Lengths(
        {(axle_of[row.tire_id], row.quantity): row for row in shapes},
        {axle_of[row.tire_id]: row for row in contours},
    )


def stages_of(tests: list[TireTest]) -> dict[uuid.UUID, str]:
    """Return how far each test is: planned, running, followed (judged, the set still on) or finished; one query."""
    begun = set(
        Run.objects.filter(test__in=tests, voided_at__isnull=True).values_list("test", flat=True).distinct()
    )

    def stage(test: TireTest) -> str:
        if test.ended_on is not None:
            return "finished"
        if test.judged_on is not None:
            return "followed"
        return "running" if test.pk in begun else "planned"

    return {test.pk: stage(test) for test in tests}
