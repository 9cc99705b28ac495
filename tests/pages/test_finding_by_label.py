"""The trailer's finder takes a tire's label: typed in any grouping, or scanned where the browser has a camera for it."""

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from fleet.accounts.policy import SERVICE
from fleet.garage.actions import add_bike, add_wheel_pair
from fleet.inventory.actions import add_own_tire
from fleet.inventory.labels import in_groups, mark_of
from tests.pages.browser import check, found_by_axe, sign_in

CAMERA = """
window.BarcodeDetector = class {
  static async getSupportedFormats() { return ["qr_code"]; }
  async detect() { return [{ rawValue: "ADDRESS" }]; }
};
const drawing = Object.assign(document.createElement("canvas"), { width: 64, height: 64 });
setInterval(() => drawing.getContext("2d").fillRect(0, 0, 64, 64), 50);
Object.defineProperty(navigator, "mediaDevices", {
  value: { getUserMedia: async () => { if (REFUSED) throw new Error("no"); return drawing.captureStream(); } },
});
"""


@pytest.fixture
def tire(assessed):
    return assessed["rear"].tire


@pytest.mark.parametrize("how", ["code", "groups", "lower", "hyphen", "mark", "address", "other host"])
def test_a_label_leads_to_the_wheels_it_is_on(as_, fitter, tire, wheel_pair, how):
    code, mark = tire.label_code, mark_of(tire)
    typed = {
        "code": code, "groups": in_groups(code), "lower": code.lower(), "hyphen": f"{code[:4]}-{code[4:]}", "mark": mark,
        "address": f"HTTP://TESTSERVER/W/{mark}", "other host": f"https://tires.example.org/W/{mark.lower()}",
    }[how]  # fmt: skip

    page = as_(fitter).get(reverse("find"), {"who": typed}).content.decode()

    assert page.count("the label you read") == 1
    assert reverse("take-in", args=[wheel_pair.pk]) in page


def test_the_wheels_the_label_is_on_stand_first(as_, fitter, tire, rider, wheel_pair):
    add_wheel_pair(
        by=SERVICE, code="a-000", name="wet", bike=add_bike(by=SERVICE, rider=rider, code="a-000", description="600")
    )  # fmt: skip

    page = as_(fitter).get(reverse("find"), {"who": tire.label_code}).content.decode()

    assert page.index(str(wheel_pair)) < page.index("600, wet")


def test_a_tire_on_no_wheel_says_whose_it_is(as_, fitter, rider, rear_spec, wheel_pair, now):
    tire = add_own_tire(by=SERVICE, at=now, rider=rider, spec=rear_spec)

    page = as_(fitter).get(reverse("find"), {"who": tire.label_code}).content.decode()

    assert "belongs to Robin Vale and is on no wheel now" in page
    assert reverse("tire", args=[tire.pk]) in page


@pytest.mark.parametrize("how", ["code", "mark"])
def test_another_vendors_label_finds_nothing(as_, stranger, tire, how):
    typed = tire.label_code if how == "code" else mark_of(tire)

    page = as_(stranger).get(reverse("find"), {"who": typed}).content.decode()

    assert "no tire of theirs on its label" in page
    assert "Robin" not in page


@pytest.mark.parametrize("typed", ["%", "_" * 8, "A" * 16, "/", "W/", "ß" * 16, "\x00"])
def test_what_is_no_label_finds_nothing(as_, fitter, tire, typed):
    answer = as_(fitter).get(reverse("find"), {"who": typed})

    assert answer.status_code == 200
    assert "the label you read" not in answer.content.decode()


@pytest.mark.browser
def test_without_a_camera_the_label_is_typed(page, fitter, tire):
    sign_in(page, fitter)
    page.goto(reverse("trailer"))

    expect(page.get_by_text("Scan a label")).to_be_hidden()
    page.get_by_label("label").fill(tire.label_code)
    page.get_by_role("button", name="Take wheels in").click()

    page.get_by_text("the label you read").wait_for()
    check(page, 64)


@pytest.mark.browser
def test_the_camera_reads_the_label_where_the_browser_can(page, server, fitter, tire):
    address = f"{server.url}/W/{mark_of(tire)}".upper()
    page.add_init_script(CAMERA.replace("ADDRESS", address).replace("REFUSED", "false"))
    sign_in(page, fitter)
    page.goto(reverse("trailer"))
    check(page, 64)

    page.get_by_role("button", name="Scan a label").click()

    page.get_by_text("the label you read").wait_for()


@pytest.mark.browser
def test_a_camera_that_stays_shut_says_what_to_do(page, fitter, tire):
    page.add_init_script(CAMERA.replace("REFUSED", "true"))
    sign_in(page, fitter)
    page.goto(reverse("trailer"))

    page.get_by_role("button", name="Scan a label").click()

    page.get_by_text("The camera does not open here").wait_for()
    assert found_by_axe(page) == []
    expect(page.get_by_role("button", name="Scan a label")).to_be_visible()
