"""The gate with no network: the morning's list answers for a number, and what was found waits on the device, photo and all."""

import pytest
from django.urls import reverse

from fleet.inventory.inspection import Inspection
from fleet.photos.cleaning import LONGEST_PX
from fleet.photos.queries import content_of
from tests.pages.browser import check, sign_in
from tests.pages.device import PATIENCE_MS, entries_on, ready, see, settled
from tests.photos.pictures import jpeg, opened

pytestmark = pytest.mark.browser
KEPT = """async () => {
    const [entry] = await Entries.all();
    const photo = entry.fields.find(([name]) => name === "photo")[1];
    const picture = await createImageBitmap(photo);
    return [photo.size, picture.width, picture.height];
}"""


@pytest.fixture
def gate(device, day, assessed, entry, inspector):
    """The inspector's tablet, with its copies made."""
    page = device()
    sign_in(page, inspector)
    see(page.get_by_role("heading", level=1))
    ready(page)
    return page


def test_a_hold_with_a_photo_is_recorded_from_the_list_and_sent_later(gate, link, day, fitted):
    large = jpeg(2400, 1800)
    link.set("down")
    gate.goto(f"{reverse('gate', args=[day.pk])}?number=27")
    see(gate.get_by_role("heading", name="Record an inspection"))
    assert gate.get_by_label("Number on the bike").input_value() == "27"

    gate.get_by_label("Rear").check()
    gate.get_by_label("Hold: does not go out").check()
    gate.get_by_label("What was seen").fill("cut in the shoulder")
    gate.get_by_label("Photo, if it shows more").set_input_files(
        {"name": "IMG_0001.jpg", "mimeType": "image/jpeg", "buffer": large}
    )
    gate.get_by_role("button", name="Store what was found").click()
    see(gate.get_by_text("1 entry waits to be sent"))
    size, width, height = gate.evaluate(KEPT)
    assert (width, height) == (1600, 1200)
    assert 0 < size < len(large)

    link.set("up")
    gate.reload()
    settled(gate, "sent", 1)

    found = Inspection.objects.get()
    assert (found.tire, found.outcome, found.words) == (fitted["rear"].tire, "hold", "cut in the shoulder")
    assert opened(content_of(found.photo)).size == (LONGEST_PX, LONGEST_PX * 3 // 4)
    assert entries_on(gate)[0]["fields"] == []


def test_with_a_network_the_photo_is_seen_at_once_and_the_page_is_open_to_all(gate, day, fitted):
    gate.goto(f"{reverse('gate', args=[day.pk])}?number=27")
    gate.get_by_text("Record what was found, rear").click()
    rear = gate.locator("form", has=gate.get_by_role("button", name="Store what was found, rear"))
    rear.get_by_label("Advise: goes out, the rider should know").check()
    rear.get_by_label("What was seen").fill("worn on the left")
    rear.get_by_label("Photo, if it shows more").set_input_files(
        {"name": "IMG_0002.jpg", "mimeType": "image/jpeg", "buffer": jpeg(orientation=6)}
    )
    rear.get_by_role("button", name="Store what was found, rear").click()

    picture = gate.get_by_alt_text("Photo taken at the inspection")
    picture.wait_for(timeout=PATIENCE_MS)
    picture.scroll_into_view_if_needed()
    picture.evaluate("(one) => one.decode()")
    assert picture.evaluate("(one) => [one.naturalWidth, one.naturalHeight]") == [480, 640]
    check(gate, 48)
