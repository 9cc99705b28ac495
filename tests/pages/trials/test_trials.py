"""The pages of tire tests: bad input first, then what each shows, and the whole way from plan to report in a browser."""

import io
import re
import uuid
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils.html import conditional_escape
from playwright.sync_api import expect
from pypdf import PdfReader

from fleet.accounts.policy import SERVICE
from fleet.garage.actions import take_back
from fleet.inventory.actions import remove_tire
from fleet.pressures.advice import advise
from fleet.running.actions import note_feel
from fleet.trials.actions import add_run, judge_test, publish_report
from fleet.trials.models import Part, TireTest
from tests.pages.browser import check, sign_in
from tests.photos.pictures import jpeg
from tests.trials.conftest import MORNING, NOON

VERDICT = "The Alder holds the line."


@pytest.fixture
def judged(measured, runs, rider_person, tester, now):
    note_feel(by=rider_person, at=now, stint=runs[1].stint, feel="moves", phase="exit")
    return judge_test(by=tester, test=measured, verdict=VERDICT, judged_on=now.date())


def text(answer):
    return " ".join(answer.content.decode().split())


def test_a_plan_that_cannot_be_keeps_what_was_typed_and_says_what_is_wrong(as_, tester, shared, bike, plan):
    sent = {"question": "Which lasts?", "planned_on": "tomorrow", "key": str(uuid.uuid4())}
    sent |= {
        f"{side}_{part}": plan[f"baseline_{part}"].pk
        for side in ("baseline", "candidate")
        for part in ("front", "rear", "pair")
    }

    answer = as_(tester).post(f"/trials/plan/?bike={bike.pk}", sent)
    sent["planned_on"] = "2026-06-12"
    again = as_(tester).post(f"/trials/plan/?bike={bike.pk}", sent)

    assert (answer.status_code, again.status_code) == (422, 422)
    assert 'value="Which lasts?"' in text(answer)
    assert "the same tires on the same wheels" in text(again)
    assert not TireTest.objects.exists()


def test_a_plan_sent_twice_is_one_test(as_, tester, shared, bike, plan):
    sent = {"question": "Which lasts?", "planned_on": "2026-06-12", "key": str(uuid.uuid4())}
    sent |= {
        f"{side}_{part}": plan[f"{side}_{part}"].pk
        for side in ("baseline", "candidate")
        for part in ("front", "rear", "pair")
    }

    first, second = (as_(tester).post(f"/trials/plan/?bike={bike.pk}", sent) for _ in range(2))

    assert first["Location"] == second["Location"]
    assert TireTest.objects.count() == 1


def test_points_that_are_none_are_named_by_their_line(as_, tester, trial, now):
    sent = {
        "taken_at": now.isoformat()[:16],
        "key": str(uuid.uuid4()),
        "rear_points": "-40 -9.2\nabout ten\n",
    }

    answer = as_(tester).post(reverse("measure-set", args=[trial.pk, "baseline"]), sent)

    assert answer.status_code == 422
    assert "Line 2, “about ten”, is no point" in text(answer)
    assert "-40 -9.2" in text(answer)


def test_the_geometry_on_the_page_is_that_of_the_hand_calculation(as_, tester, measured):
    """Cossalter, chapter 1: trail (R sin e - d) / cos e with R 300, e 24 degrees, d 30: 100.73 mm."""
    shown = text(as_(tester).get(reverse("stance", args=[measured.pk])))

    assert "100.7" in shown
    assert "+5.0 ± 0.7 mm" in shown


def test_two_changes_are_not_called_one_on_the_page(as_, tester, trial, ride, now):
    for minutes_ago, kpa in ((200, 200.0), (100, 190.0)):
        stint = ride(trial.baseline_pair, minutes_ago, [], front_set_kpa=kpa, rear_set_kpa=kpa)
        add_run(by=tester, at=now, test=trial, stint=stint, purpose="change")

    shown = text(as_(tester).get(reverse("test-runs", args=[trial.pk])))

    assert "2 changes at once: no difference can be put down to one of them." in shown


def test_the_newest_run_is_answered_with_the_one_next_change(as_, tester, trial, runs):
    expected = advise(runs[1].stint, gauge=None).suggestion

    shown = text(as_(tester).get(reverse("test-runs", args=[trial.pk])))

    assert "Next change, after the newest run" in shown
    assert conditional_escape(expected.reason) in shown


def test_a_set_that_came_off_asks_for_the_last_word_on_that_day(as_, tester, judged, candidate, now):
    address = reverse("judge", args=[judged.pk])
    before = text(as_(tester).get(address))
    for fitting in candidate.values():
        remove_tire(
            by=SERVICE,
            at=now,
            fitting=fitting,
            removed_at=now - timedelta(minutes=5),
            reason="worn",
            destination="scrapped",
        )

    after = text(as_(tester).get(address))
    as_(tester).post(address, {"ended_on": now.date().isoformat(), "final_remark": "Worn to the end."})

    assert "The test goes on" in before
    assert "Both candidate tires came off on" in after
    assert f'name="ended_on" value="{now.date()}"' in after
    judged.refresh_from_db()
    assert (judged.ended_on, judged.final_remark) == (now.date(), "Worn to the end.")


def test_the_report_says_the_same_on_screen_and_on_paper(as_, tester, judged):
    shown = text(as_(tester).get(reverse("test-report", args=[judged.pk])))
    answer = as_(tester).get(reverse("test-report-pdf", args=[judged.pk]))
    pages = PdfReader(io.BytesIO(answer.content)).pages
    printed = " ".join(" ".join(page.extract_text() for page in pages).split())

    assert 2 <= len(pages) <= 4
    for words in (VERDICT, "Moves about under power, exit", "Candidate less baseline"):
        assert words in shown
        assert words in printed


def test_a_public_report_shows_the_chosen_parts_and_names_no_rider(client, judged, tester, rider):
    test = publish_report(by=tester, test=judged, shown=[Part.VERDICT])

    shown = text(client.get(reverse("public-report", args=[test.public_code])))

    assert VERDICT in shown
    assert "Laps" not in shown
    assert rider.name not in shown


def test_a_report_whose_rider_took_the_sharing_back_is_gone(
    client, judged, tester, rider_person, shared, now
):
    test = publish_report(by=tester, test=judged, shown=list(Part.values))
    take_back(by=rider_person, sharing=shared, at=now)

    for name in ("public-report", "public-report-pdf"):
        assert client.get(reverse(name, args=[test.public_code])).status_code == 404


@pytest.mark.browser
def test_every_page_of_a_test_fits_a_phone_and_a_hand_and_axe_finds_nothing(page, tester, judged):
    test = publish_report(by=tester, test=judged, shown=list(Part.values))
    sign_in(page, tester)
    expect(page.get_by_role("link", name="Trials")).to_be_visible()
    addresses = [
        reverse("trials"),
        reverse("specs-compared"),
        reverse("plan-test") + f"?bike={test.bike_id}",
        reverse("public-report", args=[test.public_code]),
    ]
    addresses += [
        reverse(name, args=[test.pk])
        for name in (
            "tire-test",
            "change-plan",
            "stance",
            "start-pressures",
            "test-runs",
            "judge",
            "test-report",
        )
    ]

    for address in [*addresses, reverse("measure-set", args=[test.pk, "candidate"])]:
        page.goto(address)
        check(page, 48)


def note_a_pressure(page):
    page.get_by_role("link", name="Start pressures", exact=True).click()
    page.get_by_label("Front: ").check()
    page.get_by_role("textbox", name="Pressure reported, psi").fill("33")
    page.get_by_label("Where it was found").fill("a paddock notebook")
    page.get_by_label("Day it is from").fill("2026-06-01")
    page.get_by_role("button", name="Add the note").click()
    expect(page.get_by_role("listitem").filter(has_text="a paddock notebook")).to_contain_text("33.0 psi")
    page.get_by_role("link", name="The test").click()


def note_a_tread(page):
    page.get_by_role("link", name=re.compile(r"What the tread shows\W+candidate")).click()
    page.get_by_label("Rear: ").check()
    page.get_by_label("Left shoulder").check()
    page.get_by_label("Rolled grain").check()
    page.get_by_label("Photo, if it shows more").set_input_files(
        {"name": "tread.jpg", "mimeType": "image/jpeg", "buffer": jpeg()}
    )
    page.get_by_role("button", name="Store what it shows").click()
    expect(page.get_by_role("img", name="Photo: rear tread, left shoulder, rolled grain")).to_be_visible()
    page.get_by_role("link", name="Runs").click()
    expect(page.get_by_text("Rear tread, left shoulder: rolled grain")).to_be_visible()


@pytest.mark.browser
def test_a_whole_test_is_played_from_plan_to_report(
    page, tester, shared, bike, plan, fitted, candidate, chassis, ride, now
):
    ride(plan["baseline_pair"], 160, MORNING, front_set_kpa=205.0, rear_set_kpa=190.0)
    ride(plan["candidate_pair"], 60, NOON, front_set_kpa=205.0, rear_set_kpa=185.0)
    sign_in(page, tester)
    page.get_by_role("link", name="Trials").click()
    page.get_by_role("link", name="Plan a test").click()
    page.get_by_role("link", name="Robin Vale, 1000 sport").click()
    page.get_by_label("The question").fill("Is the Alder quicker?")
    for side in ("Candidate", "Baseline"):
        for axle in ("front", "rear"):
            page.get_by_label(f"{side}, {axle}").select_option(str(plan[f"{side.lower()}_{axle}"].pk))
        page.get_by_label(f"{side}, on which wheels").select_option(str(plan[f"{side.lower()}_pair"].pk))
    page.get_by_role("button", name="Plan the test").click()
    expect(page.get_by_role("heading", name="Is the Alder quicker?")).to_be_visible()

    for side, gap in (("baseline", "20"), ("candidate", "15")):
        page.get_by_role("link", name=f"Measure on the {side} tires").first.click()
        page.get_by_role("textbox", name="Front gap, mm").fill(gap)
        page.get_by_role("button", name="Store what was measured").click()
        expect(page.get_by_text(f"1 reading of the {side} set stored.")).to_be_visible()
    page.get_by_role("link", name="Before and after").click()
    expect(page.get_by_role("row", name="Front radius, mm 300.0 305.0 +5.0")).to_be_visible()
    page.get_by_role("link", name="The test").click()

    note_a_pressure(page)
    page.get_by_role("link", name="Runs", exact=True).click()
    for counted in (1, 2):
        page.get_by_label("Stint").select_option(index=0)
        page.get_by_role("button", name="Count it as a run").click()
        expect(page.locator(".log-entry")).to_have_count(counted)
    note_a_tread(page)
    page.get_by_role("link", name="What they tell").click()
    expect(page.get_by_text("The candidate is faster by").first).to_be_visible()
    page.get_by_label("Your verdict").fill(VERDICT)
    page.get_by_role("button", name="Store the verdict").click()
    expect(page.get_by_text("The verdict is stored.")).to_be_visible()
    for fitting in candidate.values():
        remove_tire(
            by=SERVICE,
            at=now,
            fitting=fitting,
            removed_at=now - timedelta(minutes=5),
            reason="worn",
            destination="scrapped",
        )
    page.reload()
    expect(page.get_by_text("Both candidate tires came off on")).to_be_visible()
    page.get_by_label("Final remark").fill("Worn to the end, and evenly.")
    page.get_by_role("button", name="Finish the test").click()
    expect(page.get_by_text("The test is finished.").first).to_be_visible()
    page.get_by_role("link", name="The test").click()
    page.get_by_role("link", name="Report").click()
    expect(page.locator("blockquote").get_by_text(VERDICT)).to_be_visible()
    expect(page.locator("blockquote").get_by_text("Worn to the end, and evenly.")).to_be_visible()
    expect(page.get_by_text("Candidate, rear tread, left shoulder: rolled grain.")).to_be_visible()
    page.get_by_role("button", name="Make a link").click()
    expect(page.get_by_text("Anybody with this link reads")).to_be_visible()
