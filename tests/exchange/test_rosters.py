"""A roster as a list: who is new, who is known, who has to be decided by hand, and that it is taken whole and once."""

from difflib import SequenceMatcher

import pytest

from fleet.accounts.policy import SERVICE
from fleet.errors import Invalid, NotAllowed, NotFound, Refusal
from fleet.events.actions import add_group, enter
from fleet.events.known_riders import plain
from fleet.events.models import Entry
from fleet.exchange.models import Upload
from fleet.exchange.rosters import RosterTaken, keep_roster, roster_of, rosters_for, take_roster
from fleet.garage.actions import add_bike, register_rider, share
from fleet.garage.models import Bike, Rider

HEADER = "number,name,group,bike,warmers,contact,rider"


@pytest.fixture
def send(crew, day, group, now):
    def sent(*rows, by=crew):
        data = "\n".join([HEADER, *rows]).encode()
        return keep_roster(by=by, at=now, day=day, name="roster.csv", data=data)

    return sent


@pytest.fixture
def take(crew, now):
    def taken(upload, **decided):
        return take_roster(
            by=crew, at=now, upload=upload, decided={int(key[1:]): value for key, value in decided.items()}
        )

    return taken


@pytest.fixture
def known(crew, longfield):
    """Wil rode here before, on his 600, and has no account."""
    wil = register_rider(
        by=crew, code="r-wil", name="Wil Stroud", contact="07700 900111", registered_with=longfield
    )
    add_bike(by=crew, rider=wil, code="b-wil", description="600 sport")
    return wil


def does(upload):
    return [row.does for row in roster_of(upload).rows]


def faults(upload):
    roster = roster_of(upload)
    found = [*roster.whole, *(fault for row in roster.rows for fault in row.faults)]
    return [(fault.line, fault.column, fault.sentence) for fault in found]


def test_new_riders_are_registered_with_the_organiser_and_entered(send, take, day, longfield):
    done = take(send("7,Ann Ash,Fast,600 sport,yes,07700 900123,", "8,Bo Elm,fast,1000 sport,,,"))

    assert done["new"] == 2
    entry = Entry.objects.get(day=day, number="7")
    assert (entry.rider.name, entry.rider.registered_with, entry.bike.description) == (
        "Ann Ash",
        longfield,
        "600 sport",
    )
    assert (entry.uses_warmers, entry.rider.contact) == (True, "07700 900123")


@pytest.mark.parametrize("name", ["Wil Stroud", "  wil   STROUD", "W\u00edl Stroud"])
def test_a_name_that_one_known_rider_has_is_that_rider_on_their_bike(send, take, known, name):
    upload = send(f"7,{name},Fast,,,,")

    assert does(upload) == ["known"]
    take(upload)
    assert Entry.objects.get().bike.code == "b-wil"
    assert Rider.objects.count() == 1


@pytest.mark.parametrize(
    "row",
    [
        "7,Will Stroud,Fast,600 sport,,,",  # one letter off
        "7,Wil Stroud,Fast,600 sport,,0044 1632 960000,",  # another contact
        "7,William S.,Fast,600 sport,,07700 900111,",  # the same contact
    ],
)
def test_what_is_doubtful_is_decided_by_hand(send, take, known, row):
    as_known, as_new = send(row), send(row)

    [found] = roster_of(as_known).rows
    values = [choice.value for choice in found.choices]
    with pytest.raises(Refusal, match="Line 2: who is"):
        take(as_known)
    with pytest.raises(Refusal, match="Line 2: who is"):
        take(as_known, l2="somebody")
    take(as_known, l2=values[0])

    assert found.does == "decide"
    assert values == [f"{known.pk}:{known.bikes.get().pk}", "new"]
    assert Entry.objects.get().rider == known
    Entry.objects.all().delete()
    take(as_new, l2="new")
    assert Entry.objects.get().rider != known


def test_two_of_one_name_are_told_apart_by_their_contact(send, known, crew, longfield):
    other = register_rider(
        by=crew, code="r-wil2", name="Wil Stroud", contact="wil@example.org", registered_with=longfield
    )
    add_bike(by=crew, rider=other, code="b-wil2", description="300 single")

    assert does(send("7,Wil Stroud,Fast,,,WIL@example.org,")) == ["known"]
    assert does(send("7,Wil Stroud,Fast,,,,")) == ["decide"]
    assert does(send("7,Wil Stroud,Fast,,,,r-wil2")) == ["known"]


def test_a_walk_in_on_another_bike_gets_it_after_a_decision(send, take, known):
    upload = send("7,Wil Stroud,Fast,1000 sport,,,")

    [row] = roster_of(upload).rows
    take(upload, l2=f"{known.pk}:new")

    assert row.does == "decide"
    assert set(known.bikes.values_list("description", flat=True)) == {"600 sport", "1000 sport"}


def test_who_rides_already_is_mended_where_the_list_differs(send, take, day, group, known, event):
    slow = add_group(by=SERVICE, event=event, name="Slow")
    enter(by=SERVICE, day=day, bike=known.bikes.get(), group=group, number="7")

    same, other = send("7,Wil Stroud,Fast,,,,"), send("9,Wil Stroud,Slow,,yes,,")

    assert (does(same), does(other)) == (["as it is"], ["changed"])
    take(other)
    entry = Entry.objects.get()
    assert (entry.number, entry.group, entry.uses_warmers) == ("9", slow, True)


def test_a_doubtful_row_may_be_somebody_who_rides_already_and_is_then_mended(send, take, day, group, known):
    enter(by=SERVICE, day=day, bike=known.bikes.get(), group=group, number="7")
    upload = send("9,Will Stroud,Fast,600 sport,,,")

    [row] = roster_of(upload).rows
    take(upload, l2=f"{known.pk}:{known.bikes.get().pk}")

    assert row.does == "decide"
    assert [rides.number for _, rides in row.offered() if rides] == ["7"]
    assert Entry.objects.get().number == "9"


def test_two_rows_decided_to_be_one_rider_are_refused(send, take, known):
    upload = send("7,Will Stroud,Fast,600 sport,,,", "8,Wil Strout,Fast,600 sport,,,")
    same = f"{known.pk}:{known.bikes.get().pk}"

    with pytest.raises(Refusal, match="Line 3"):
        take(upload, l2=same, l3=same)

    assert not Entry.objects.exists()


@pytest.mark.parametrize(
    ("row", "column", "sentence"),
    [
        ("7,Ann Ash,Fats,600 sport,,,", "group", "the groups are Fast"),
        ("7,Ann Ash,Fast,,,,", "bike", "say what they ride"),
        (",Ann Ash,Fast,600 sport,,,", "number", "The cell is empty"),
        ("7,,Fast,600 sport,,,", "name", "The cell is empty"),
        ("1234567,Ann Ash,Fast,600 sport,,,", "number", "longer than 6 letters"),
        ("7,Ann Ash,Fast,600 sport,perhaps,,", "warmers", "yes or no"),
        ("7,Ann Ash,Fast,600 sport,,,r-nobody", "rider", "Nobody with the code"),
        ("7,=cmd(),Fast,600 sport,,,", "name", "would run as a formula"),
        ("27,Ann Ash,Fast,600 sport,,,", "number", "27 rides already: Robin Vale"),
    ],
)
def test_a_bad_row_is_named_and_nobody_is_entered(send, take, entry, row, column, sentence):
    upload = send("6,Bo Elm,Fast,600 sport,,,", row)

    [(line, where, said)] = faults(upload)
    with pytest.raises(Refusal, match="Line 3"):
        take(upload)

    assert (line, where) == (3, column)
    assert sentence in said
    assert Entry.objects.get() == entry
    assert Upload.objects.get().taken_at is None


def test_one_rider_is_not_entered_twice_on_one_bike(send, known):
    assert (
        "Line 2 enters the same rider" in faults(send("7,Wil Stroud,Fast,,,,", "8,wil stroud,Fast,,,,"))[0][2]
    )


def test_a_stranger_with_an_account_is_not_found_and_not_doubled_silently(send, other_rider, bike):
    """Robin and Ottie never had anything to do with Longfield: nothing of them is told."""
    upload = send("7,Ottie Crane,Fast,600 sport,,,", f"8,Robin Vale,Fast,,,,{bike.rider.code}")

    assert does(upload) == ["new", ""]
    assert faults(upload)[0][1] == "rider"


def test_a_rider_who_shares_is_entered_on_a_bike_that_rode_here_only(
    send, rider, rider_person, bike, longfield, now, entry, day
):
    share(by=rider_person, rider=rider, organisation=longfield, scope="stints", at=now)
    add_bike(by=SERVICE, rider=rider, code="secret", description="300 single")

    [row] = roster_of(send("27,Robin Vale,Fast,300 single,,,")).rows

    assert [choice.bike for choice in row.choices] == [bike]


def test_a_rider_with_an_account_and_no_bike_here_enters_alone(send, rider, rider_person, longfield, now):
    share(by=rider_person, rider=rider, organisation=longfield, scope="stints", at=now)

    assert "ask them to enter themselves" in faults(send("7,Robin Vale,Fast,1000 sport,,,"))[0][2]


def test_a_roster_is_taken_once_and_its_rows_forgotten(send, take):
    upload = send("7,Ann Ash,Fast,600 sport,,,")
    take(upload)

    with pytest.raises(RosterTaken):
        take(upload)

    upload.refresh_from_db()
    assert upload.rows == []
    assert Bike.objects.count() == 1


def test_only_those_who_edit_the_event_bring_a_roster_in(send, inspector, stranger, stock_manager, crew):
    with pytest.raises(NotAllowed):
        send("7,Ann Ash,Fast,600 sport,,,", by=inspector)
    with pytest.raises(NotFound):
        send("7,Ann Ash,Fast,600 sport,,,", by=stranger)
    send("7,Ann Ash,Fast,600 sport,,,")
    assert rosters_for(crew).count() == 1
    assert not rosters_for(stock_manager).exists()


def test_a_list_too_long_for_a_day_is_refused(send):
    with pytest.raises(Invalid, match="more than 1000 riders"):
        send(*(f"{number},Rider {number},Fast,600 sport,,," for number in range(1001)))


def test_many_rows_ask_the_database_no_more_often(send, known, django_assert_num_queries):
    few, many = (send(*(f"{n},Rider {n},Fast,600 sport,,," for n in range(count))) for count in (2, 60))
    with django_assert_num_queries(5) as counted:
        roster_of(Upload.objects.select_related("day__event__organiser").get(pk=few.pk))

    with django_assert_num_queries(len(counted)):
        roster_of(Upload.objects.select_related("day__event__organiser").get(pk=many.pk))


def test_names_that_are_not_alike_are_told_apart_without_weighing_them(send, known, monkeypatch):
    weighed = []
    ratio = SequenceMatcher.ratio
    monkeypatch.setattr(SequenceMatcher, "ratio", lambda one: weighed.append(one) or ratio(one))

    assert does(send("7,Wil Fotheringay,Fast,600 sport,,,")) == ["new"]
    assert weighed == []
    assert does(send("7,Wil Strood,Fast,600 sport,,,")) == ["decide"]


def test_names_are_compared_as_two_people_would():
    assert plain("  Zo\u00eb  O'HARE ") == plain("zoe o'hare")
