"""Reference notes on the page of start pressures: bad input first, then written down, corrected and taken out."""

import uuid

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from fleet.accounts.policy import SERVICE
from fleet.catalogue.actions import note_reference
from fleet.catalogue.models import ReferenceNote
from tests.pages.browser import check, sign_in


@pytest.fixture
def sent(trial, now):
    return {
        "spec": str(trial.candidate_rear_id),
        "pressure_kpa": "31,9",
        "basis": "hot",
        "air_c": "21",
        "track_surface_c": "",
        "track_name": "Marram Point Circuit",
        "pace": "fast group",
        "noted_on": now.date().isoformat(),
        "source": "a paddock notebook",
        "key": str(uuid.uuid4()),
    }


def text(answer):
    return " ".join(answer.content.decode().split())


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("pressure_kpa", "319", "is not plausible: give 7.3 to 101.5 psi."),
        ("pressure_kpa", "about 32", "is no number: give psi"),
        ("source", "", "Where it was found is missing: fill it in."),
        ("noted_on", "2031-01-01", "has not come yet"),
        ("spec", "505ad76d-2427-43cd-a6b0-d4aac5d33139", "Select a valid choice"),
    ],
)
def test_a_note_that_cannot_be_keeps_what_was_typed(as_, tester, trial, sent, field, value, sentence):
    answer = as_(tester).post(reverse("add-note", args=[trial.pk]), sent | {field: value})

    assert answer.status_code == 422
    assert sentence in text(answer)
    assert 'value="fast group"' in text(answer)
    assert not ReferenceNote.objects.exists()


def test_a_note_is_weighed_with_the_others_as_soon_as_it_is_stored(as_, tester, trial, sent):
    """31.9 psi are 219.9 kPa (1 psi = 6.894757 kPa, NIST Special Publication 811, appendix B)."""
    client = as_(tester)

    for _ in range(2):
        answer = client.post(reverse("add-note", args=[trial.pk]), sent, follow=True)

    [note] = ReferenceNote.objects.all()
    assert note.pressure_kpa == pytest.approx(31.9 * 6.894757, abs=0.01)
    assert (note.organisation, note.track_surface_c) == (trial.organisation, None)
    assert "a paddock notebook" in text(answer)
    assert "gathered by Longfield Track Days" in text(answer)


def test_only_a_note_of_this_test_is_changed_here(as_, tester, rider_person, trial, sent, front_spec, now):
    as_(tester).post(reverse("add-note", args=[trial.pk]), sent)
    shared = note_reference(
        by=SERVICE,
        spec=trial.candidate_rear,
        basis="hot",
        pressure_kpa=220.0,
        noted_on=now.date(),
        source="everybody's",
    )
    own = ReferenceNote.objects.get(organisation=trial.organisation)

    assert as_(tester).get(reverse("change-note", args=[trial.pk, shared.pk])).status_code == 404
    assert as_(rider_person).get(reverse("change-note", args=[trial.pk, own.pk])).status_code == 403
    seen = text(as_(rider_person).get(reverse("start-pressures", args=[trial.pk])))
    assert "a paddock notebook" in seen
    assert "Add the note" not in seen


@pytest.mark.browser
def test_a_note_is_added_corrected_and_taken_out_in_a_browser(page, tester, trial):
    sign_in(page, tester)
    expect(page.get_by_role("link", name="Trials")).to_be_visible()
    page.goto(reverse("start-pressures", args=[trial.pk]))
    page.get_by_label("Rear: ").check()
    page.get_by_role("textbox", name="Pressure reported, psi").fill("32")
    page.get_by_role("textbox", name="Air then, °C").fill("22")
    page.get_by_label("Where it was found").fill("a paddock notebook")
    page.get_by_label("Day it is from").fill("2026-06-01")
    page.get_by_role("button", name="Add the note").click()
    expect(page.get_by_text("The note is stored and weighed")).to_be_visible()
    row = page.get_by_role("listitem").filter(has_text="a paddock notebook")
    expect(row).to_contain_text("32.0")
    check(page, 48)

    row.get_by_role("link", name="Change").click()
    page.get_by_role("textbox", name="Pressure reported, psi").fill("33")
    check(page, 48)
    page.get_by_role("button", name="Correct the note").click()
    expect(page.get_by_text("The note is corrected.")).to_be_visible()
    expect(row).to_contain_text("33.0")
    row.get_by_role("link", name="Change").click()
    page.get_by_role("button", name="Take the note out").click()
    expect(page.get_by_text("The note is taken out.")).to_be_visible()
    expect(row).to_have_count(0)
