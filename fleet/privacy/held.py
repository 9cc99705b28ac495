"""What is held about somebody beyond the exchange folder: a table a file, each row narrowed to them.

Nobody else is named in them: who wrote something stands as "you", "the service", or somebody at an organisation.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from typing import Any, Final

from allauth.account.models import EmailAddress
from allauth.mfa.models import Authenticator
from allauth.usersessions.models import UserSession
from django.apps import apps
from django.db.models import Case, Count, Max, Min, Q, Value, When

from fleet.accounts.models import ApiKey, Change, Membership
from fleet.events.models import CalendarLink
from fleet.exchange.models import Upload
from fleet.garage.models import Invitation
from fleet.inventory.availability import reservations
from fleet.inventory.handover import Handover
from fleet.inventory.models import JobTicket, RecallContact, SidewallReading, Tire
from fleet.inventory.ownership import theirs_then
from fleet.life.models import Assessment, Flag
from fleet.notices.models import Notice, TellingChoice
from fleet.pressures.models import GuidanceLine
from fleet.privacy.holder import Holder
from fleet.privacy.narrowed import sheets_about
from fleet.privacy.pictures import photos_about
from fleet.privacy.written import AT_A_TIME, Table, written
from fleet.records import Fact
from fleet.replies.models import Reply
from fleet.trials.models import Run, TireTest

STANDING: Final = Q(fittings__movement__voided_at__isnull=True)


TABLES: Final = (
    Table(
        "account",
        "Your account.",
        lambda holder: holder.people,
        (
            "email",
            "name",
            "is_active",
            "last_login",
            "pressure_unit",
            "temperature_unit",
            "depth_unit",
            "distance_unit",
        ),
    ),
    Table(
        "addresses",
        "Your e-mail addresses, and whether you showed that they are yours.",
        lambda holder: EmailAddress.objects.filter(user__in=holder.people).order_by("email"),
        ("email", "verified", "primary"),
    ),
    Table(
        "roles",
        "What you do for organisations.",
        lambda holder: Membership.objects.filter(person__in=holder.people).order_by(
            "organisation__name", "role"
        ),
        ("organisation__name", "role"),
    ),
    Table(
        "second_factors",
        "Kinds of second factor you set up; their secrets leave the service for nobody.",
        lambda holder: Authenticator.objects.filter(user__in=holder.people).order_by("created_at"),
        ("type", "created_at", "last_used_at"),
    ),
    Table(
        "visits",
        "Where you are signed in.",
        lambda holder: UserSession.objects.filter(user__in=holder.people).order_by("created_at"),
        ("created_at", "last_seen_at", "ip", "user_agent"),
    ),
    Table(
        "keys",
        "API keys you made; their secrets are stored nowhere.",
        lambda holder: ApiKey.objects.filter(
            Q(person__in=holder.people) | Q(made_by__in=holder.people)
        ).order_by("made_at"),
        (
            "name",
            "organisation__name",
            "scopes",
            "prefix",
            "made_at",
            "expires_at",
            "last_used_on",
            "revoked_at",
        ),
    ),
    Table(
        "invitations",
        "Invitations to take your record over.",
        lambda holder: Invitation.objects.filter(rider__in=holder.riders).order_by("made_at"),
        ("made_at", "expires_at", "revoked_at", "claimed_at"),
    ),
    Table(
        "calendars",
        "Addresses your calendar program reads your times on track from; their secrets are stored nowhere.",
        lambda holder: CalendarLink.objects.filter(rider__in=holder.riders).order_by("made_at"),
        ("made_at", "ended_at"),
    ),
    Table(
        "notices",
        "What the service told you.",
        lambda holder: Notice.objects.filter(person__in=holder.people).order_by("told_at", "id"),
        ("told_at", "topic", "sentence", "read_at", "on_page", "mail", "mail_tried_at"),
    ),
    Table(
        "telling",
        "How you chose to be told about what; of what is not named, the service's own way counts.",
        lambda holder: TellingChoice.objects.filter(person__in=holder.people).order_by("kind"),
        ("kind", "on_page", "by_mail"),
    ),
    Table(
        "requests",
        "Requests of your programs whose answers are kept for 48 hours, so that one sent twice has one effect.",
        lambda holder: Reply.objects.filter(person__in=holder.people).order_by("claimed_at", "id"),
        ("key", "claimed_at", "answered_at", "status"),
    ),
    Table(
        "tires_from_stock",
        "Where your tires from a vendor's stock came from: the delivery a recall would name.",
        lambda holder: (
            Tire.objects.filter(fittings__wheel_pair__bike__rider__in=holder.riders, lot__isnull=False)
            .annotate(
                sold_for=Max(
                    "fittings__movement__unit_price",
                    filter=STANDING & Q(fittings__wheel_pair__bike__rider__in=holder.riders),
                )
            )
            .order_by("label_code")
        ),
        (
            "label_code",
            "spec__code",
            "identification",
            "lot__vendor__name",
            "lot__code",
            "lot__date_code",
            "sold_for",
        ),
    ),
    Table(
        "sidewalls",
        "Numbers read off the sidewalls of your tires to check them against a recall.",
        lambda holder: SidewallReading.objects.filter(theirs_then(holder.riders, "read_at")).order_by(
            "read_at", "id"
        ),
        (
            "tire__label_code",
            "identification",
            "plant",
            "made_on",
            "read_at",
            "read_for__name",
            "voided_at",
            "void_reason",
        ),
    ),
    Table(
        "recalls",
        "Recalls somebody told you about.",
        lambda holder: RecallContact.objects.filter(rider__in=holder.riders).order_by("told_at", "id"),
        (
            "notice__reference",
            "notice__issued_by",
            "notice__what_to_do",
            "told_for__name",
            "way",
            "told_at",
            "voided_at",
            "void_reason",
        ),
    ),
    Table(
        "photos",
        "Photos others took of your tires; the pictures lie in photos/ under the same id.",
        photos_about,
        ("id", "kept_at", "width_px", "height_px"),
    ),
    Table(
        "handovers",
        "Tires you offered to another rider, gave or took over; the other one is not named, and what a tire ran before it was yours is theirs.",
        lambda holder: (
            Handover.objects.filter(Q(giver__in=holder.riders) | Q(taker__in=holder.riders))
            .annotate(as_giver=Case(When(giver__in=holder.riders, then=Value(True)), default=Value(False)))
            .order_by("offered_at", "id")
        ),
        (
            "tire__label_code",
            "as_giver",
            "offered_at",
            "expires_at",
            "withdrawn_at",
            "declined_at",
            "handed_at",
        ),
    ),
    Table(
        "uploads",
        "Lists you sent to look at before they count; kept for a day.",
        lambda holder: Upload.objects.filter(person__in=holder.people).order_by("made_at", "id"),
        ("file_name", "organisation__name", "made_at", "taken_at"),
    ),
    Table(
        "handed_in",
        "Your job tickets with the vendor's own numbers; exchange/tickets.csv counts them anew.",
        lambda holder: JobTicket.objects.filter(wheel_pair__bike__rider__in=holder.riders).order_by(
            "opened_at"
        ),
        ("vendor__name", "opened_on", "number", "wheel_pair__code", "state"),
    ),
    Table(
        "reservations",
        "Tires you reserved, and what became of it.",
        lambda holder: reservations().filter(rider__in=holder.riders).order_by("recorded_at", "id"),
        (
            "vendor__name",
            "spec__code",
            "quantity",
            "taken",
            "wanted_on",
            "recorded_at",
            "kept_at",
            "ready_at",
            "ended_at",
            "ended_as",
            "end_reason",
        ),
    ),
    Table(
        "assessments",
        "What the service computed about your tires, and from what; computed again from facts at any time.",
        lambda holder: Assessment.objects.filter(theirs_then(holder.riders, "assessed_at")).order_by(
            "assessed_at", "id"
        ),
        (
            "tire__label_code",
            "assessed_at",
            "is_newest",
            "state",
            "binding_limit",
            "remaining_days_10",
            "remaining_days_50",
            "remaining_days_90",
            "chance_next_day",
            "distance_km",
            "road_km",
            "heat_cycles",
            "days_run",
            "depth_mm",
            "depth_zone",
            "age_years",
            "readings",
            "provenance",
        ),
    ),
    Table(
        "tire_tests",
        "Tire tests that testers ran with your bikes.",
        lambda holder: TireTest.objects.filter(bike__rider__in=holder.riders).order_by("planned_on", "code"),
        (
            "code",
            "organisation__name",
            "bike__code",
            "question",
            "held_constant",
            "planned_on",
            "judged_on",
            "verdict",
            "ended_on",
            "final_remark",
        ),
    ),
    Table(
        "test_runs",
        "Your stints that count as runs of a tire test.",
        lambda holder: Run.objects.filter(test__bike__rider__in=holder.riders).order_by("recorded_at", "id"),
        ("test__code", "stint", "side", "purpose", "words", "voided_at", "void_reason"),
    ),
    Table(
        "flags",
        "When the service said that one of your tires needs somebody to look.",
        lambda holder: Flag.objects.filter(theirs_then(holder.riders, "raised_at")).order_by(
            "raised_at", "id"
        ),
        (
            "tire__label_code",
            "state",
            "binding_limit",
            "raised_at",
            "acknowledged_at",
            "cleared_at",
            "cleared_because",
        ),
    ),
    Table(
        "start_pressures",
        "Start pressures computed for your own tires. Bulletins name no rider and hold nothing about you.",
        lambda holder: GuidanceLine.objects.filter(entry__rider__in=holder.riders).order_by(
            "guidance__computed_at", "part__starts_at", "id"
        ),
        (
            "guidance__day__event__code",
            "guidance__day__date",
            "guidance__computed_at",
            "part__name",
            "part__starts_at",
            "part__ends_at",
            "axle",
            "spec__code",
            "uses_warmers",
            "start_kpa",
            "low_kpa",
            "high_kpa",
            "shown_kpa",
            "hot_target_kpa",
            "expected_hot_kpa",
            "tire_c",
            "limit_hit",
            "basis",
            "readings",
        ),
    ),
)

WRITERS: Final = ("file", "key", "written_by", "voided_by", "doubt")
CHANGES: Final = ("at", "by", "for", "what", "noun", "row", "before", "after")
WORK: Final = ("what", "count", "first_at", "last_at")


def writers(holder: Holder) -> Iterator[list[str]]:
    """Return for every fact in the exchange folder who wrote it down, who voided it, and what is doubtful about it."""
    facts = [(sheet, sheet.rows()) for sheet in sheets_about(holder) if sheet.is_fact]
    said = _said_of(holder)
    for sheet, rows in facts:
        has_doubt = any(field.name == "doubt" for field in rows.model._meta.get_fields())  # noqa: SLF001 -- documented
        names = ["pk", "recorded_by", "voided_at", "voided_by", *(["doubt"] if has_doubt else [])]
        found = rows.order_by("recorded_at", "pk").select_related(None).values_list(*names)
        for key, author, voided_at, voider, *doubt in found.iterator(chunk_size=AT_A_TIME):
            ended = said(voider) if voided_at else ""
            yield [sheet.file, str(key), said(author), ended, written(doubt[0] if doubt else "")]


def changes(holder: Holder) -> Iterator[list[str]]:
    """Return the trail of what was changed about somebody: by whom, for whom, before and after."""
    said = _said_of(holder)
    about = Q(rider__in=holder.riders.values("pk")) | Q(person__in=holder.people)
    names = ("at", "by", "on_behalf_of__name", "what", "noun", "row", "before", "after")
    found = Change.objects.filter(about).order_by("at", "pk").values_list(*names)
    for at, by, *rest in found.iterator(chunk_size=AT_A_TIME):
        yield [written(at), said(by), *(written(one) for one in rest)]


def work(holder: Holder) -> Iterator[list[str]]:
    """Return how many facts somebody wrote down of each kind, and when; the facts themselves belong to others."""
    for model in (one for one in apps.get_models() if issubclass(one, Fact)):
        total = model.objects.filter(recorded_by__in=holder.people).aggregate(
            count=Count("pk"), first=Min("recorded_at"), last=Max("recorded_at")
        )
        if total["count"]:
            name = str(model._meta.verbose_name)  # noqa: SLF001 -- Django documents it
            yield [name, str(total["count"]), written(total["first"]), written(total["last"])]


def _said_of(holder: Holder) -> Callable[[Any], str]:
    """Return how a writer is called in an archive: nobody but its owner by name."""
    houses: dict[Any, list[str]] = defaultdict(list)
    rows = Membership.objects.order_by("organisation__name").values_list("person", "organisation__name")
    for person, name in rows.distinct():
        houses[person].append(name)

    def said(person: Any) -> str:
        if person is None:
            return "the service"
        if holder.person and person == holder.person.pk:
            return "you"
        return f"somebody at {' and '.join(houses[person])}" if person in houses else "somebody else"

    return said


def described() -> Iterable[tuple[str, str]]:
    """Return every file of this part with what it is."""
    yield from ((f"{table.name}.csv", table.about) for table in TABLES)
    yield "writers.csv", "Who wrote each exchanged fact down or voided it, and what is doubtful about it."
    yield "changes.csv", "The trail of every change of something of yours, before and after."
    yield "work.csv", "How much you wrote down, for yourself and for others; what is others' belongs to them."
