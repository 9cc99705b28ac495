"""People, organisations, roles and the units somebody sees."""

import pytest

from fleet.accounts.actions import add_organisation, add_person, choose_units, give_role
from fleet.accounts.models import Person, Role
from fleet.accounts.policy import SERVICE
from fleet.errors import Invalid, NotAllowed


def test_somebody_signs_in_with_the_address_in_small_letters(db):
    person = add_person(
        by=SERVICE, email="Una.Fell@Example.ORG", name="Una Fell", password="a long enough word"
    )

    assert person.email == "una.fell@example.org"
    assert person.check_password("a long enough word")


def test_without_a_password_nobody_signs_in(db):
    person = add_person(by=SERVICE, email="una@example.org", name="Una Fell")

    assert not person.has_usable_password()


@pytest.mark.parametrize("email", ["not an address", "", "ROBIN@example.org"])
def test_an_address_that_is_none_or_is_taken_is_refused_at_its_field(email, rider_person):
    with pytest.raises(Invalid) as refused:
        add_person(by=SERVICE, email=email, name="Una Fell")

    assert refused.value.field == "email"
    assert Person.objects.count() == 1


def test_an_organisation_is_a_vendor_or_an_organiser_or_both(db):
    with pytest.raises(Invalid, match="vendor, an organiser, or both"):
        add_organisation(by=SERVICE, code="no", name="Neither", is_vendor=False, is_organiser=False)


def test_an_organisations_code_is_given_once(tarn):
    with pytest.raises(Invalid) as refused:
        add_organisation(by=SERVICE, code="tarn", name="Another", is_vendor=True, is_organiser=False)

    assert refused.value.field == "code"


def test_a_role_is_one_of_the_list_and_given_once(tarn, fitter):
    with pytest.raises(Invalid):
        give_role(by=SERVICE, person=fitter, organisation=tarn, role="owner of everything")
    with pytest.raises(Invalid):
        give_role(by=SERVICE, person=fitter, organisation=tarn, role=Role.FITTER)

    assert fitter.memberships.count() == 1


def test_only_the_service_makes_people_organisations_and_roles(tarn, stock_manager, rider_person):
    with pytest.raises(NotAllowed):
        add_person(by=stock_manager, email="una@example.org", name="Una Fell")
    with pytest.raises(NotAllowed):
        add_organisation(by=stock_manager, code="own", name="Own", is_vendor=True, is_organiser=True)
    with pytest.raises(NotAllowed):
        give_role(by=rider_person, person=rider_person, organisation=tarn, role=Role.STOCK_MANAGER)


def test_everybody_chooses_the_units_they_see(rider_person):
    choose_units(
        by=rider_person, pressure_unit="bar", temperature_unit="F", depth_unit="32nds", distance_unit="mi"
    )

    kept = Person.objects.get(pk=rider_person.pk)
    assert (kept.pressure_unit, kept.temperature_unit) == ("bar", "F")
    assert (kept.depth_unit, kept.distance_unit) == ("32nds", "mi")


def test_a_unit_nobody_offers_is_refused_and_nothing_changes(rider_person):
    with pytest.raises(Invalid) as refused:
        choose_units(
            by=rider_person, pressure_unit="atm", temperature_unit="C", depth_unit="mm", distance_unit="km"
        )

    assert refused.value.field == "pressure_unit"
    assert Person.objects.get(pk=rider_person.pk).pressure_unit == "psi"
