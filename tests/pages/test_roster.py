"""The roster at the desk: read, mended, brought in as a list, and a walk-in entered in one form."""

import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from openpyxl import Workbook

from fleet.events.models import Entry
from fleet.exchange.models import Upload
from fleet.garage.actions import add_bike, register_rider
from fleet.garage.models import Rider


@pytest.fixture
def walk_in_form(group):
    def filled(**changes):
        return {
            "name": "Wil Stroud", "number": "31", "bike": "600 sport", "group": group.pk, "uses_warmers": "no",
            "contact": "",
        } | changes  # fmt: skip

    return filled


@pytest.fixture
def known(crew, longfield):
    wil = register_rider(by=crew, code="r-wil", name="Wil Stroud", registered_with=longfield)
    add_bike(by=crew, rider=wil, code="b-wil", description="600 sport")
    return wil


def workbook(*rows):
    book = Workbook()
    for row in [["number", "name", "group", "bike"], *rows]:
        book.active.append(row)
    file = io.BytesIO()
    book.save(file)
    return SimpleUploadedFile("roster.xlsx", file.getvalue())


def test_a_walk_in_is_registered_and_entered_in_one_form(as_, crew, day, walk_in_form, longfield):
    answer = as_(crew).post(reverse("walk-in", args=[day.pk]), walk_in_form(), follow=True)

    entry = Entry.objects.get()
    assert "Wil Stroud rides with number 31 in Fast." in answer.content.decode()
    assert (entry.rider.registered_with, entry.bike.description) == (longfield, "600 sport")


def test_the_same_form_sent_twice_enters_once(as_, crew, day, walk_in_form):
    client = as_(crew)
    client.post(reverse("walk-in", args=[day.pk]), walk_in_form())

    answer = client.post(reverse("walk-in", args=[day.pk]), walk_in_form())

    assert answer.status_code == 422
    assert "rides already" in answer.content.decode() or "entered that day already" in answer.content.decode()
    assert (Entry.objects.count(), Rider.objects.count()) == (1, 1)


def test_a_name_like_a_known_one_is_asked_about_first(as_, crew, day, walk_in_form, known):
    client, address = as_(crew), reverse("walk-in", args=[day.pk])

    asked = client.post(address, walk_in_form(name="Will Stroud"))
    entered = Entry.objects.count()
    client.post(address, walk_in_form(name="Will Stroud", meant=f"{known.pk}:{known.bikes.get().pk}"))

    assert asked.status_code == 422
    assert "who is it?" in asked.content.decode()
    assert entered == 0
    assert Entry.objects.get().rider == known


@pytest.mark.parametrize(
    ("name", "typed", "sentence"),
    [
        ("name", "", "Name is missing"),
        ("number", "", "Number on the bike is missing"),
        ("bike", "", "say what they ride"),
        ("group", "", "Group is missing"),
        ("number", "27", "rides already"),
    ],
)
def test_what_is_missing_is_said_and_what_was_typed_stays(
    as_, crew, day, entry, walk_in_form, name, typed, sentence
):
    answer = as_(crew).post(
        reverse("walk-in", args=[day.pk]), walk_in_form(contact="07700 900123") | {name: typed}
    )

    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert "07700 900123" in page
    assert Entry.objects.count() == 1


def test_a_workbook_is_looked_at_decided_and_taken(as_, crew, day, group, known):
    client = as_(crew)
    file = workbook([7, "Ann Ash", "Fast", "1000 sport"], [8, "Will Stroud", "Fast", "600 sport"])

    shown = client.post(reverse("send-roster", args=[day.pk]), {"file": file}, follow=True)
    address = shown.request["PATH_INFO"]
    undecided = client.post(address)
    taken = client.post(address, {"decide-3": f"{known.pk}:{known.bikes.get().pk}"}, follow=True)

    assert "Who is Will Stroud" in shown.content.decode()
    assert undecided.status_code == 422
    assert "Line 3: who is Will Stroud?" in undecided.content.decode()
    assert "The roster is taken: 2 entered, 0 mended." in taken.content.decode()
    assert Entry.objects.get(number="8").rider == known


def test_a_faulty_list_shows_its_rows_and_offers_no_button(as_, crew, day, group):
    file = workbook([7, "Ann Ash", "Fats", "1000 sport"])

    page = as_(crew).post(reverse("send-roster", args=[day.pk]), {"file": file}, follow=True).content.decode()

    assert "There is no group “Fats”: the groups are Fast" in page
    assert "Take the roster" not in page


def test_a_list_of_one_day_is_not_that_of_another_nor_anybody_elses(
    as_, crew, director, day, event, layout, group
):
    client = as_(crew)
    client.post(
        reverse("send-roster", args=[day.pk]), {"file": workbook([7, "Ann Ash", "Fast", "600 sport"])}
    )
    upload = Upload.objects.get()
    other = event.days.create(date="2026-01-02", layout=layout)

    assert client.get(reverse("roster-list", args=[other.pk, upload.pk])).status_code == 404
    assert as_(director).get(reverse("roster-list", args=[day.pk, upload.pk])).status_code == 404
    assert client.get(reverse("roster-list", args=[day.pk, upload.pk])).status_code == 200


def test_a_workbook_of_ones_own_is_taken_with_its_title_and_short_rows(as_, crew, day, group, known):
    book = Workbook()
    book.active.append(["Longfield, Friday"])
    book.active.merge_cells("A1:E1")
    for row in (
        ["No.", "Rider", "Group", "Licence", "Bike"],
        [7, "Ann Ash", "Fast", "licence of 2031", "300 single"],
        [8, "Wil Stroud", "Fast"],
    ):
        book.active.append(row)
    file = io.BytesIO()
    book.save(file)
    sent = SimpleUploadedFile("own.xlsx", file.getvalue())

    page = as_(crew).post(reverse("send-roster", args=[day.pk]), {"file": sent}, follow=True).content.decode()

    assert "Passed over and not stored, since a roster has no use for it: Licence." in page
    assert "Take the roster of 2" in page
    assert "licence of 2031" not in page


def test_what_is_to_be_mended_and_decided_stands_before_the_rest(as_, crew, day, group, known):
    file = workbook(
        [7, "Ann Ash", "Fast", "1000 sport"],
        [8, "Will Stroud", "Fast", "600 sport"],
        [9, "Bo Elm", "Fats", "300 single"],
    )

    page = as_(crew).post(reverse("send-roster", args=[day.pk]), {"file": file}, follow=True).content.decode()

    assert page.index("To mend in the file, 1") < page.index("9 Bo Elm") < page.index("To decide, 1")
    assert page.index("Who is Will Stroud") < page.index("In order, 1") < page.index("7 Ann Ash")


def test_a_number_that_is_taken_says_who_has_it_and_which_is_free(as_, crew, day, entry, walk_in_form):
    client = as_(crew)
    page = client.post(reverse("walk-in", args=[day.pk]), walk_in_form(number="27")).content.decode()
    own = client.post(
        reverse("entry", args=[day.pk, entry.pk]),
        {"number": "27", "group": entry.group_id, "uses_warmers": "yes"},
    )

    assert f"27 rides already: Robin Vale on {entry.bike}. Give another number, such as 28." in page
    assert own.status_code == 302


def test_who_rides_already_is_named_with_the_number(as_, crew, day, group, known, walk_in_form):
    client, address = as_(crew), reverse("walk-in", args=[day.pk])
    client.post(address, walk_in_form())

    page = client.post(address, walk_in_form(number="32")).content.decode()

    assert "Wil Stroud rides already on 600 sport, with number 31" in page


def test_somebody_new_is_a_way_out_where_only_a_known_name_is_offered(
    as_, crew, day, group, known, walk_in_form
):
    client, address = as_(crew), reverse("walk-in", args=[day.pk])

    without = client.post(address, walk_in_form(name="Will Stroud", bike="")).content.decode()
    with_bike = client.post(address, walk_in_form(name="Will Stroud", bike="300 single")).content.decode()

    assert "Say under “Bike” what they ride" in without
    assert "Say under “Bike” what they ride" not in with_bike
    assert 'value="new"' in with_bike
    assert "autofocus" not in without


def test_an_entry_is_mended_and_taken_off(as_, crew, day, entry):
    client, address = as_(crew), reverse("entry", args=[day.pk, entry.pk])

    shown = client.get(address).content.decode()
    client.post(address, {"number": "28", "group": entry.group_id, "uses_warmers": "yes"})
    entry.refresh_from_db()
    gone = client.post(reverse("take-off", args=[day.pk, entry.pk]), follow=True)

    assert 'value="27"' in shown
    assert (entry.number, entry.uses_warmers) == ("28", True)
    assert "no longer rides" in gone.content.decode()
    assert not Entry.objects.exists()


def test_inspectors_and_testers_read_the_roster_and_change_nothing(as_, inspector, day, entry):
    client = as_(inspector)

    page = client.get(reverse("roster", args=[day.pk])).content.decode()

    assert "Robin Vale" in page
    assert "Enter a walk-in" not in page
    assert client.post(reverse("walk-in", args=[day.pk])).status_code == 403
    assert client.post(reverse("take-off", args=[day.pk, entry.pk])).status_code == 403
    assert client.post(reverse("send-roster", args=[day.pk])).status_code == 403
