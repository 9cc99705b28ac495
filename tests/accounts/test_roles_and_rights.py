"""Who may do what: the table of roles, typed here from the domain's page and not from the policy itself."""

import pytest

from fleet.accounts.models import Organisation, Person, Role
from fleet.accounts.policy import SERVICE, Right, may, organisations, require
from fleet.errors import NotAllowed, NotFound

# Rows and columns of "Who may see and do what" in the description of the domain; riders need no role.
MAY = {
    "fitter": "read_riders register fit take_readings read_stock read_guidance read_bulletin invite read_recalls",
    "stock_manager": "read_riders register fit take_readings read_stock manage_stock read_guidance read_bulletin "
    "manage_keys manage_people invite read_history recall read_recalls",
    "crew": "read_event edit_event read_entrants read_entrant_pressures read_guidance draft_bulletin read_bulletin "
    "register invite read_recalls",
    "director": "read_event edit_event read_entrants read_entrant_pressures read_guidance draft_bulletin "
    "issue_bulletin read_bulletin manage_keys manage_people register invite read_history recall read_recalls",
    "inspector": "read_event read_entrants read_entrant_life hold read_bulletin recall read_recalls",
    "tester": "read_stock read_event read_shared_stints run_tests read_guidance draft_bulletin read_bulletin",
}


def test_the_table_knows_every_role_and_uses_every_right():
    used = {right for rights in MAY.values() for right in rights.split()}

    assert set(MAY) == set(Role.values)
    assert used == {right.value for right in Right}


@pytest.mark.parametrize("role", sorted(MAY))
def test_a_role_holds_exactly_the_rights_of_its_row(role, db):
    home = Organisation.objects.create(code="home", name="Home", is_vendor=True, is_organiser=True)
    away = Organisation.objects.create(code="away", name="Away", is_vendor=True, is_organiser=True)
    person = Person.objects.create(email="pat@example.org", name="Pat Ellory")
    person.memberships.create(organisation=home, role=role)

    held = {right.value for right in Right if may(person, right, home)}
    held_elsewhere = {right.value for right in Right if may(person, right, away)}

    assert held == set(MAY[role].split())
    assert held_elsewhere == set()


def test_two_roles_add_up_and_list_the_organisation_once(longfield, crew):
    crew.memberships.create(organisation=longfield, role=Role.DIRECTOR)

    found = list(organisations(crew, Right.READ_EVENT))

    assert found == [longfield]
    assert may(crew, Right.ISSUE_BULLETIN, longfield)


def test_a_member_with_too_small_a_role_is_told_and_a_stranger_learns_nothing(tarn, fitter, stranger):
    with pytest.raises(NotAllowed, match="Tarn Tire Service"):
        require(fitter, Right.MANAGE_STOCK, tarn)
    with pytest.raises(NotFound) as refused:
        require(stranger, Right.MANAGE_STOCK, tarn)

    assert "Tarn" not in refused.value.sentence


def test_nobody_holds_a_right_in_no_organisation(fitter):
    with pytest.raises(NotFound):
        require(fitter, Right.FIT, None)


def test_the_service_itself_holds_every_right_everywhere(tarn, longfield):
    assert all(may(SERVICE, right, place) for right in Right for place in (tarn, longfield))
