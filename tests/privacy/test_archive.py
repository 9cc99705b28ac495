"""What an archive says: everything held about somebody, in words they understand, signed by nobody else's name."""

from datetime import timedelta

import pytest
from django.apps import apps
from django.db import models

from fleet.accounts.actions import make_key
from fleet.accounts.models import ApiKey, Change, Organisation, Person, RoleOffer
from fleet.accounts.policy import SERVICE
from fleet.catalogue.models import PressureSpec, ReferenceNote, TireLine, TireSpec
from fleet.events.models import Conditions, Day, Event, Group, Layout, Slot, Track
from fleet.exchange.folder import SHEETS
from fleet.garage.actions import add_instrument
from fleet.garage.models import Rider
from fleet.inventory.actions import accept_tire, add_own_tire, offer_tire, remove_tire
from fleet.inventory.models import Lot, RecallNotice, StockMovement
from fleet.life.assessments import assess
from fleet.life.models import LearnedModel
from fleet.notices.actions import tell
from fleet.operating.models import JobState
from fleet.pressures.models import Bulletin, Guidance, GuidancePart, Override
from fleet.privacy.held import TABLES
from fleet.privacy.holder import Holder
from fleet.running.actions import note_feel, record_pressure, record_tread

ABOUT_NOBODY = {
    Organisation: "named where it is pointed to, in the exchange folder",
    ReferenceNote: "what others reported of a tire",
    RecallNotice: "binds everybody; the one a rider was told about is in recalls.csv",
    Lot: "a vendor's; the rider's tires name theirs",
    StockMovement: "a vendor's ledger",
    LearnedModel: "learned from everybody, tells of nobody",
    Guidance: "its lines for one's own tires are in start_pressures.csv",
    GuidancePart: "its name and time stand beside each line in start_pressures.csv",
    Bulletin: "names no rider",
    Override: "set in the place of a spec's line, never of a rider's own",
    JobState: "how the service's own jobs fare",
    RoleOffer: "an organisation's; the role taken is in roles.csv",
}


def test_every_model_is_in_an_archive_or_says_nothing_of_anybody(rider):
    holder = Holder(rider.person, rider)
    held = (
        {sheet.rows().model for sheet in SHEETS} | {table.rows(holder).model for table in TABLES} | {Change}
    )

    ours = {one for one in apps.get_models() if one.__module__.startswith(("fleet.", "allauth."))}
    missing = sorted(one.__name__ for one in ours - held - set(ABOUT_NOBODY))

    assert missing == ["EmailConfirmation"]
    assert {TireLine, TireSpec, PressureSpec, Track, Layout, Event, Day, Group, Slot, Conditions} <= held


def test_what_a_crew_wrote_is_in_it_signed_by_its_organisation(
    archive, table, rider, fitter, stint, fitted, tarn, now
):
    record_tread(
        by=fitter, at=now, tire=fitted["rear"].tire, zone="C", taken_at=now, depth_mm=5.1, vendor=tarn
    )

    files = archive(by=rider.person)

    said = {(row["file"], row["written_by"]) for row in table(files, "more/writers.csv")}
    assert ("treads.csv", "somebody at Tarn Tire Service") in said
    assert ("stints.csv", "you") in said
    assert ("fittings.csv", "the service") in said
    assert [row["depth_mm"] for row in table(files, "exchange/treads.csv")] == ["5.1"]
    assert "Fen Aldous" not in "".join(files.values())
    assert "fen@example.org" not in "".join(files.values())


def test_secrets_are_not_in_it(archive, table, rider, now):
    key, token = make_key(by=rider.person, at=now, name="van", scopes=["read"])

    files = archive(by=rider.person)

    [row] = table(files, "more/keys.csv")
    assert (row["name"], row["scopes"]) == ("van", '["read"]')
    everything = "".join(files.values())
    assert token.rsplit("_", 1)[1] not in everything
    assert ApiKey.objects.get(pk=key.pk).digest not in everything
    assert rider.person.password not in everything


@pytest.mark.parametrize("words", ["=1+1", "+1", "-1", "@sum", "\t=1"])
def test_no_text_is_run_as_a_formula(archive, table, rider, stint, words, now):
    note_feel(by=rider.person, at=now, stint=stint, feel="good", words=words)
    tell([rider.person], topic="flag", about="1", sentence=words, at=now)

    files = archive(by=rider.person)

    [felt] = table(files, "exchange/feel_notes.csv")
    [told] = table(files, "more/notices.csv")
    assert felt["words"].startswith("'")
    assert told["sentence"] == felt["words"]


def test_what_was_computed_and_changed_is_in_it(archive, table, rider, bike, fitted, now):
    assess(None, at=now)

    files = archive(by=rider.person)

    assert {row["tire_label_code"] for row in table(files, "more/assessments.csv")} == {
        fitting.tire.label_code for fitting in fitted.values()
    }
    made = [row for row in table(files, "more/changes.csv") if row["noun"] == "bike"]
    assert [(row["what"], row["by"]) for row in made] == [("made", "the service")]
    assert "1000 sport" in made[0]["after"]
    assert {row["lot_code"] for row in table(files, "more/tires_from_stock.csv")} == {"lot-f", "lot-r"}


def test_taking_out_leaves_a_line_in_the_trail(archive, rider, now):
    archive(by=rider.person)

    assert Change.objects.filter(row=rider.pk, what="taken_out", by=rider.person).exists()


def test_a_reading_with_another_riders_gauge_names_no_gauge(archive, table, rider, other_rider, fitted, now):
    gauge = add_instrument(
        by=SERVICE, code="g-ottie", name="Ottie's", kind="pressure", rider=other_rider, offset_kpa=3.0
    )
    reading = record_pressure(
        by=SERVICE, at=now, tire=fitted["rear"].tire, moment="later", taken_at=now, pressure_kpa=203.0
    )
    type(reading).objects.filter(pk=reading.pk).update(instrument=gauge, pressure_kpa=200.0)

    files = archive(by=rider.person)

    [row] = table(files, "exchange/pressures.csv")
    assert (row["read_kpa"], row["instrument"]) == ("200", "")
    assert "g-ottie" not in "".join(files.values())


def test_nothing_of_two_riders_with_tires_of_one_spec_mixes(
    archive, table, rider, other_rider, fitted, front_spec, now
):
    add_own_tire(by=SERVICE, at=now, rider=other_rider, spec=front_spec, label_code="OTTIE1")

    files = archive(by=rider.person)

    assert "OTTIE1" not in "".join(files.values())
    assert [row["code"] for row in table(files, "exchange/riders.csv")] == ["r-001"]
    assert Rider.objects.count() == 2


def test_the_readme_names_every_file_of_the_archive(archive, rider):
    files = archive(by=rider.person)

    named = [name.rsplit("/", 1)[-1] for name in files if name != "README.txt"]
    assert [name for name in named if f"  {name}: " not in files["README.txt"]] == []
    assert "Robin Vale" in files["README.txt"]


def test_every_relation_to_a_person_is_known():
    """A new way in which a row may point to an account is looked at here before it is forgotten."""
    ways = {
        f"{model._meta.label}.{field.name}"
        for model in apps.get_models()
        for field in model._meta.get_fields()
        if isinstance(field, models.ForeignKey | models.OneToOneField) and field.related_model is Person
        if field.name not in {"recorded_by", "voided_by"}
    }

    assert ways == {
        "account.EmailAddress.user",
        "accounts.ApiKey.made_by",
        "accounts.ApiKey.person",
        "accounts.ApiKey.revoked_by",
        "accounts.Change.by",
        "accounts.Change.person",
        "accounts.Membership.person",
        "accounts.RoleOffer.made_by",
        "accounts.RoleOffer.taken_by",
        "exchange.Upload.person",
        "garage.Invitation.claimed_by",
        "garage.Invitation.made_by",
        "garage.Rider.person",
        "inventory.Hold.lifted_by",
        "inventory.RecallNotice.lifted_by",
        "inventory.Reservation.ended_by",
        "life.Flag.acknowledged_by",
        "mfa.Authenticator.user",
        "notices.Notice.person",
        "notices.TellingChoice.person",
        "pressures.Bulletin.issued_by",
        "pressures.Bulletin.withdrawn_by",
        "pressures.Override.made_by",
        "replies.Reply.person",
        "usersessions.UserSession.user",
    }


def test_a_tire_that_changed_hands_stands_in_both_archives_each_with_its_own_time(
    archive, table, rider, other_rider, stint, fitted, rider_person, now
):
    tire = fitted["front"].tire
    record_tread(by=rider_person, at=now, tire=tire, zone="C", taken_at=now, depth_mm=4.1)
    remove_tire(
        by=rider_person,
        at=now,
        fitting=fitted["front"],
        removed_at=now,
        reason="sold",
        destination="handed_back",
    )
    later = now + timedelta(minutes=1)
    _offer, token = offer_tire(by=rider_person, at=later, tire=tire)
    accept_tire(by=other_rider.person, at=later, token=token)
    tire.refresh_from_db()
    record_tread(
        by=other_rider.person,
        at=later,
        tire=tire,
        zone="C",
        taken_at=later + timedelta(minutes=1),
        depth_mm=4.0,
    )

    given, taken = archive(by=rider_person), archive(by=other_rider.person)

    for files, whose, depth in ((given, rider, "4.1"), (taken, other_rider, "4")):
        (row,) = [one for one in table(files, "exchange/tires.csv") if one["label_code"] == tire.label_code]
        assert row["rider"] == whose.code
        assert [float(one["depth_mm"]) for one in table(files, "exchange/treads.csv")] == [float(depth)]
        (told,) = table(files, "more/handovers.csv")
        assert told["tire_label_code"] == tire.label_code
    assert other_rider.name not in str(given)
    assert rider.name not in str(taken)
    assert rider.code not in str(taken)
    assert [one["tire"] for one in table(taken, "exchange/pressures.csv")] == []
