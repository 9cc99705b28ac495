"""API keys: made by those who may, shown once, ended at once by whatever takes their ground away."""

import csv
import uuid
from datetime import UTC, datetime, timedelta
from hashlib import sha256

import pytest
from django.core import serializers
from django.core.management import call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.accounts.actions import give_role, make_key, make_organisation_key, revoke_key, use_key
from fleet.accounts.errors import KeyShownBefore
from fleet.accounts.models import ApiKey, Membership, Person, Role, Scope
from fleet.accounts.policy import SERVICE, Right, may, organisations
from fleet.accounts.queries import keys_for
from fleet.errors import Invalid, NotAllowed, NotFound


@pytest.fixture
def own(rider_person, now):
    """Robin's key and its secret."""
    return make_key(by=rider_person, at=now, name="phone", scopes=["read"])


@pytest.fixture
def trailer(stock_manager, tarn, now):
    """Tarn's key for a program at the trailer, made by Sal: a fitter's role."""
    return make_organisation_key(
        by=stock_manager, at=now, organisation=tarn, role=Role.FITTER, name="scale", scopes=["write_fittings"]
    )


def test_a_key_finds_the_person_who_made_it(own, rider_person, now):
    key, token = own

    found = use_key(token=token, at=now)

    assert found == key
    assert found.person == rider_person
    assert found.scopes == ["read"]


def test_the_database_holds_a_digest_and_not_the_secret(own):
    key, token = own

    stored = serializers.serialize("json", ApiKey.objects.all())

    assert token.split("_", 2)[2] not in stored
    assert key.digest == sha256(token.encode()).hexdigest()
    assert token.startswith(f"fleet_{key.prefix}_")


def test_no_two_keys_share_a_secret(rider_person, now):
    tokens = {make_key(by=rider_person, at=now, name="one", scopes=["read"])[1] for _ in range(20)}

    assert len({token.split("_", 2)[2] for token in tokens}) == 20


@pytest.mark.parametrize(
    "change",
    [
        lambda token: token[:-1] + ("A" if token[-1] != "A" else "B"),
        lambda token: token[:-1],
        lambda token: token + "A",
        lambda token: token + "\n",
        lambda token: token.upper(),
        lambda token: token.replace("fleet_", ""),
        lambda token: token[:-1] + "é",
        lambda _token: "",
        lambda _token: "fleet_" + "0" * 10 + "_" + "A" * 43,
    ],
)
def test_anything_but_the_whole_secret_finds_nobody(own, now, change):
    assert use_key(token=change(own[1]), at=now) is None


def test_a_revoked_key_ends_at_once_and_stays_listed(own, rider_person, now):
    key, token = own

    revoke_key(by=rider_person, at=now, api_key=key)
    again = revoke_key(by=rider_person, at=now + timedelta(hours=1), api_key=key)

    assert use_key(token=token, at=now) is None
    assert (again.revoked_at, again.revoked_by) == (now, rider_person)
    assert list(keys_for(rider_person)) == [key]


def test_a_key_works_up_to_its_end(rider_person, now):
    _, token = make_key(
        by=rider_person, at=now, name="day", scopes=["read"], expires_at=now + timedelta(days=1)
    )

    assert use_key(token=token, at=now + timedelta(hours=23, minutes=59)) is not None
    assert use_key(token=token, at=now + timedelta(days=1)) is None


def test_a_key_ends_with_the_account_it_acts_as(own, rider_person, now):
    rider_person.is_active = False
    rider_person.save()

    assert use_key(token=own[1], at=now) is None


def test_a_key_that_is_gone_costs_the_same_queries_as_one_that_never_was(own, trailer, rider_person, now):
    key, token = own
    never = "fleet_" + "0" * 10 + "_" + "A" * 43
    revoke_key(by=rider_person, at=now, api_key=key)

    counted = []
    for asked in (token, never, trailer[1][:-2] + "--"):
        with CaptureQueriesContext(connection) as queries:
            assert use_key(token=asked, at=now) is None
        counted.append(len(queries))

    assert counted == [1, 1, 1]


def test_the_day_of_use_is_written_once_a_day(own, now):
    key, token = own
    counted = []
    for at in (now, now + timedelta(hours=2), now + timedelta(days=1)):
        with CaptureQueriesContext(connection) as queries:
            use_key(token=token, at=at)
        counted.append(sum("UPDATE" in query["sql"] for query in queries))

    key.refresh_from_db()
    assert counted == [1, 0, 1]
    assert key.last_used_on == (now + timedelta(days=1)).date()


def test_an_organisations_key_acts_with_its_role_there_and_nowhere_else(trailer, tarn, breckside, now):
    account = use_key(token=trailer[1], at=now).person

    assert may(account, Right.FIT, tarn)
    assert not may(account, Right.MANAGE_STOCK, tarn)
    assert list(organisations(account, Right.FIT)) == [tarn]


def test_the_account_of_an_organisations_key_cannot_sign_in_and_owns_nothing(trailer):
    account = trailer[0].person

    assert not account.has_usable_password()
    assert account.email.endswith("@keys.invalid")  # RFC 2606, section 2: no mail ever arrives there
    assert not hasattr(account, "rider")


@pytest.mark.parametrize("role", [Role.FITTER, Role.CREW, Role.INSPECTOR, Role.TESTER])
def test_other_roles_make_no_key_for_their_organisation(role, tarn, now):
    person = Person.objects.create(email="pat@example.org", name="Pat Ellory")
    give_role(by=SERVICE, person=person, organisation=tarn, role=role)

    with pytest.raises(NotAllowed):
        make_organisation_key(by=person, at=now, organisation=tarn, role=role, name="scale", scopes=["read"])
    assert not ApiKey.objects.exists()


def test_a_stranger_makes_no_key_for_an_organisation(stock_manager, breckside, now):
    with pytest.raises(NotFound):
        make_organisation_key(
            by=stock_manager, at=now, organisation=breckside, role=Role.FITTER, name="scale", scopes=["read"]
        )


def test_a_key_never_opens_more_than_its_maker_may(director, longfield, now):
    def made_as(role):
        return make_organisation_key(
            by=director, at=now, organisation=longfield, role=role, name="board", scopes=["read"]
        )

    for role in (Role.INSPECTOR, Role.TESTER, Role.FITTER, Role.STOCK_MANAGER):
        with pytest.raises(NotAllowed, match="never opens more"):
            made_as(role)
    assert [made_as(role)[0].organisation for role in (Role.CREW, Role.DIRECTOR)] == [longfield] * 2
    assert Person.objects.count() == 3


def test_a_second_role_of_the_maker_opens_that_role_too(director, longfield, now):
    give_role(by=SERVICE, person=director, organisation=longfield, role=Role.INSPECTOR)

    key, _ = make_organisation_key(
        by=director, at=now, organisation=longfield, role=Role.INSPECTOR, name="gate", scopes=["write_holds"]
    )

    assert may(key.person, Right.HOLD, longfield)


def test_an_organisations_key_ends_when_its_maker_loses_the_role(trailer, stock_manager, now):
    Membership.objects.filter(person=stock_manager).update(role=Role.FITTER)

    assert use_key(token=trailer[1], at=now) is None


def test_an_organisations_key_ends_with_its_makers_account(trailer, stock_manager, now):
    stock_manager.is_active = False
    stock_manager.save()

    assert use_key(token=trailer[1], at=now) is None


def test_an_organisations_key_ends_with_its_own_account(trailer, now):
    Person.objects.filter(pk=trailer[0].person_id).update(is_active=False)

    assert use_key(token=trailer[1], at=now) is None


def test_a_program_makes_no_keys(tarn, stock_manager, now):
    key, _ = make_organisation_key(
        by=stock_manager, at=now, organisation=tarn, role=Role.STOCK_MANAGER, name="till", scopes=["read"]
    )

    for make in (
        lambda: make_key(by=key.person, at=now, name="more", scopes=["read"]),
        lambda: make_organisation_key(
            by=key.person, at=now, organisation=tarn, role=Role.FITTER, name="more", scopes=["read"]
        ),
    ):
        with pytest.raises(NotAllowed, match="made by people"):
            make()


def test_a_colleague_who_manages_keys_revokes_one_and_others_do_not_find_it(
    trailer, tarn, fitter, stranger, director, now
):
    key, token = trailer
    other = Person.objects.create(email="olga@example.org", name="Olga Finch")
    give_role(by=SERVICE, person=other, organisation=tarn, role=Role.STOCK_MANAGER)

    for person in (fitter, stranger, director):
        with pytest.raises(NotFound):
            revoke_key(by=person, at=now, api_key=key)
    assert use_key(token=token, at=now) == key
    revoke_key(by=other, at=now, api_key=key)

    assert use_key(token=token, at=now) is None
    assert not Person.objects.get(pk=key.person_id).is_active


def test_nobody_sees_anothers_own_keys(own, stock_manager, trailer):
    assert list(keys_for(stock_manager)) == [trailer[0]]
    assert trailer[0] not in keys_for(own[0].person)


@pytest.mark.parametrize(
    ("field", "said"),
    [
        ("name", {"name": "  "}),
        ("scopes", {"scopes": []}),
        ("scopes", {"scopes": ["read", "everything"]}),
        ("expires_at", {"expires_at": datetime(2026, 6, 12, 11, 0, tzinfo=UTC)}),
    ],
)
def test_a_key_that_cannot_be_right_is_refused_at_its_field(rider_person, now, field, said):
    with pytest.raises(Invalid) as refused:
        make_key(by=rider_person, at=now, **({"name": "phone", "scopes": ["read"]} | said))

    assert refused.value.field == field
    assert not ApiKey.objects.exists()


def test_a_refused_key_of_an_organisation_leaves_no_account_behind(stock_manager, tarn, now):
    with pytest.raises(Invalid):
        make_organisation_key(
            by=stock_manager, at=now, organisation=tarn, role=Role.FITTER, name="scale", scopes=[]
        )

    assert list(Person.objects.all()) == [stock_manager]


def test_scopes_are_kept_once_and_in_their_order(rider_person, now):
    key, _ = make_key(by=rider_person, at=now, name="phone", scopes=["write_stock", "read", "write_stock"])

    assert key.scopes == [Scope.READ, Scope.WRITE_STOCK]


def test_a_form_sent_twice_makes_one_key(rider_person, now):
    same = uuid.uuid4()
    key, _ = make_key(by=rider_person, at=now, name="phone", scopes=["read"], key=same)

    with pytest.raises(KeyShownBefore):
        make_key(by=rider_person, at=now, name="phone", scopes=["read"], key=same)

    assert list(ApiKey.objects.all()) == [key]


def test_the_exchange_folder_names_people_and_no_account_of_a_key(trailer, own, tmp_path):
    call_command("export", str(tmp_path))

    with (tmp_path / "people.csv").open(newline="") as file:
        addresses = {row["email"] for row in csv.DictReader(file)}
    assert addresses == {"sal@example.org", "robin@example.org"}
