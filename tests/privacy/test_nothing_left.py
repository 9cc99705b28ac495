"""After an erasure no text anywhere in the database tells whose it was; new models are searched by themselves."""

import pytest
from allauth.account.models import EmailAddress
from django.apps import apps
from django.contrib.sessions.models import Session
from django.db import models

from fleet.accounts.actions import make_key
from fleet.accounts.models import Person
from fleet.accounts.policy import SERVICE
from fleet.garage.actions import add_instrument, share
from fleet.garage.models import Rider
from fleet.inventory.actions import add_own_tire, place_hold, take_wheels_in
from fleet.inventory.models import JobTicket
from fleet.life.assessments import assess
from fleet.life.learning import learn
from fleet.life.models import LearnedModel
from fleet.notices.actions import tell
from fleet.privacy.actions import erase
from fleet.privacy.words import GONE, OWN, SEARCHED
from fleet.replies.models import Reply
from fleet.running.actions import adjust, note_feel, note_surface, record_tread, void_note
from fleet.running.models import PressureReading
from tests.conftest import somebody

TEXTS = (
    models.CharField,
    models.TextField,
    models.JSONField,
    models.BinaryField,
    models.GenericIPAddressField,
)
WORDS = ["feel", "reason", "surface", "unit", "gauge", "wish", "hold", "key", "sentence", "reply", "body"]
KEPT = {
    "an organisation's, a maker's or a place's own name and code": {
        "accounts.Organisation": ("code", "name", "contact", "currency"),
        "catalogue.TireLine": ("maker", "name"),
        "catalogue.TireSpec": ("code", "size", "compound"),
        "catalogue.PressureSpec": ("published_by",),
        "events.Track": ("code", "name", "time_zone"),
        "events.Layout": ("code", "name"),
        "events.Event": ("code", "name"),
        "events.Day": ("public_code",),
        "events.Group": ("name",),
        "inventory.RecallNotice": ("reference", "issued_by"),
    },
    "tells which tire it is, which a recall needs": {
        "inventory.Lot": ("code", "date_code"),
        "inventory.Tire": ("label_code", "identification", "plant"),
        "inventory.SidewallReading": ("identification", "plant"),
        "inventory.RecallNotice": ("first_code", "last_code", "plant"),
    },
    "written by the service from figures and fixed words": {
        "running.PressureReading": ("doubt",),
        "running.TreadReading": ("doubt",),
        "running.TemperatureReading": ("doubt",),
        "running.ShapeReading": ("doubt",),
        "running.ContourReading": ("doubt", "x_mm", "z_mm"),
        "trials.TireTest": ("code", "public_code", "shown"),
        "life.LearnedModel": ("spreads", "packed"),
        "life.Assessment": ("binding_limit", "depth_zone", "provenance"),
        "life.Flag": ("binding_limit", "cleared_because"),
        "pressures.Guidance": ("fingerprint", "assumptions"),
        "pressures.GuidancePart": ("name",),
        "pressures.GuidanceLine": ("limit_hit", "basis", "moved_because"),
        "operating.JobState": ("name", "kind", "place", "task_id"),
        "photos.Photo": ("digest",),
        "replies.Reply": ("key", "request_digest", "headers"),
        "notices.Notice": ("topic", "about", "address"),
        "accounts.ApiKey": ("scopes", "prefix", "digest"),
        "accounts.RoleOffer": ("digest",),
        "inventory.Handover": ("digest",),
        "accounts.Change": ("noun",),
    },
    "anonymised in its own way, see the tests": {
        "accounts.Person": ("email", "name", "password"),
        "accounts.ApiKey": ("name",),
        "events.Entry": ("number",),
        "life.LearnedModel": ("levels",),
        "pressures.Bulletin": ("content", "digest"),
        "replies.Reply": ("body",),
        "accounts.Change": ("before", "after"),
    },
    "deleted with the account": {
        "account.EmailAddress": ("email",),
        "account.EmailConfirmation": ("key",),
        "mfa.Authenticator": ("data",),
        "usersessions.UserSession": ("ip", "session_key", "user_agent", "data"),
        "sessions.Session": ("session_key", "session_data"),
        "exchange.Upload": ("file_name", "rows"),
    },
    "the framework's own words": {
        "auth.Permission": ("name", "codename"),
        "auth.Group": ("name",),
        "contenttypes.ContentType": ("app_label", "model"),
    },
}


def texts_of(model):
    return {
        field.name
        for field in model._meta.concrete_fields
        if isinstance(field, TEXTS) and not field.choices and not field.is_relation
    }


def everything_written():
    """Return every text, number and byte of the whole database as one text."""
    parts = []
    for model in apps.get_models(include_auto_created=True):
        for row in model._base_manager.values_list():
            parts.extend(
                bytes(one).decode("latin-1") if isinstance(one, memoryview | bytes) else str(one)
                for one in row
            )
    parts += [str(session.get_decoded()) for session in Session.objects.all()]
    return "\n".join(parts)


def left_of(told):
    written = everything_written().casefold()
    return sorted(one for one in told if one.casefold() in written)


@pytest.fixture
def life_of_robin(rider, fitted, stint, bike, wheel_pair, tarn, longfield, fitter, rear_spec, now):
    """Robin's words, in every place where words go."""
    by = rider.person
    Rider.objects.filter(pk=rider.pk).update(contact="07700 900123")
    for place, note in enumerate(("feel-words", "feel-voided")):
        felt = note_feel(by=by, at=now, stint=stint, feel="good", words=note)
        if place:
            void_note(by=by, at=now, note=felt, reason="reason-words")
    note_surface(by=by, at=now, tire=fitted["rear"].tire, look="even", seen_at=now, words="surface-words")
    adjust(
        by=by,
        at=now,
        wheel_pair=wheel_pair,
        part="rear_preload",
        before=3,
        after=4,
        unit="unit-words",
        made_at=now,
    )
    gauge = add_instrument(by=by, code="gauge-code", name="gauge-words", kind="depth", rider=rider)
    record_tread(
        by=by, at=now, tire=fitted["rear"].tire, zone="C", taken_at=now, depth_mm=5.1, instrument=gauge
    )
    ticket = take_wheels_in(
        by=fitter, at=now, vendor=tarn, wheel_pair=wheel_pair, opened_on=now.date(), wish="wish-words"
    )
    JobTicket.objects.filter(pk=ticket.pk).update(state="collected")
    place_hold(
        by=SERVICE,
        at=now,
        tire=fitted["front"].tire,
        placed_for=tarn,
        reason="damage",
        note="hold-words",
        placed_at=now,
    )
    share(by=by, rider=rider, organisation=longfield, scope="stints", at=now)
    make_key(by=by, at=now, name="key-words", scopes=["read"])
    tell([by], topic="flag", about="flag-1", sentence="sentence-words", at=now)
    Reply.objects.create(person=by, key="reply-words", request_digest="d", claimed_at=now, body="body-words")
    Reply.objects.create(
        person=fitter,
        key="k",
        request_digest="d",
        claimed_at=now,
        body='{"code": "r-001", "name": "Robin Vale", "bike":"b-001"}',
    )
    for subject in LearnedModel.Subject.values:
        learn(subject, at=now)
    assess(None, at=now)
    LearnedModel.objects.create(
        subject="wear", learned_at=now, rows=1, spreads={}, levels={"rider": ["r-000", "r-001"]}, packed=b""
    )
    return {
        "Robin Vale",
        "robin@example.org",
        "r-001",
        "b-001",
        "w-001",
        "gauge-code",
        "07700 900123",
        "1000 sport",
        *(f"{what}-words" for what in WORDS),
        "feel-voided",
    }


def test_every_text_of_every_model_is_accounted_for():
    known = {(own.model._meta.label, name) for own in OWN for name in (*own.words, *own.codes)}
    known |= {(model._meta.label, name) for model, names in SEARCHED.items() for name in names}
    known |= {(model._meta.label, name) for model in GONE for name in texts_of(model)}
    known |= {(model, name) for some in KEPT.values() for model, names in some.items() for name in names}

    unknown = sorted(
        f"{model._meta.label}.{name}: say in fleet/privacy/words.py what an erasure does with it, or here why it stays"
        for model in apps.get_models(include_auto_created=True)
        for name in texts_of(model)
        if (model._meta.label, name) not in known
    )

    assert unknown == []


def test_nothing_of_a_riders_words_names_and_codes_is_left(life_of_robin, rider, now):
    assert left_of(life_of_robin) == sorted(life_of_robin)

    erase(by=rider.person, at=now)

    assert left_of(life_of_robin) == []
    assert str(Rider.objects.get(pk=rider.pk)) == "Erased rider"


def test_a_name_and_an_address_are_found_wherever_others_wrote_them(
    life_of_robin, rider, held_elsewhere, now
):
    for model, fields in SEARCHED.items():
        for name in fields:
            model._base_manager.exclude(**{name: ""}).update(**{name: "robin vale said: ROBIN@example.org"})
    assert PressureReading.objects.exists()

    erase(by=rider.person, at=now)

    assert left_of({"Robin Vale", "robin@example.org"}) == []


@pytest.fixture
def held_elsewhere(other_rider, tarn, fitted, front_spec, now):
    """Another rider's held tire, with words about it."""
    tire = add_own_tire(by=SERVICE, at=now, rider=other_rider, spec=front_spec, label_code="OWN1")
    return place_hold(
        by=SERVICE, at=now, tire=tire, placed_for=tarn, reason="damage", note="cut", placed_at=now
    )


@pytest.mark.parametrize("name", ["Robin", "front tire", "Longfield Track", "Marram Point"])
def test_a_name_that_marks_no_person_wipes_nobody_elses_words(
    name, rider, held_elsewhere, track, longfield, now
):
    Person.objects.filter(pk=rider.person_id).update(name=name)
    Rider.objects.filter(pk=rider.pk).update(name=name)
    held_elsewhere.note = f"{name} with a cut"
    held_elsewhere.save()

    erase(by=Person.objects.get(pk=rider.person_id), at=now)

    held_elsewhere.refresh_from_db()
    assert held_elsewhere.note == f"{name} with a cut"


def test_another_person_of_the_same_name_keeps_it(rider, now):
    namesake = somebody("Rob Vale")
    Person.objects.filter(pk=namesake.pk).update(name="Robin Vale")

    erase(by=rider.person, at=now)

    namesake.refresh_from_db()
    assert namesake.name == "Robin Vale"
    assert not EmailAddress.objects.filter(user=rider.person).exists()
