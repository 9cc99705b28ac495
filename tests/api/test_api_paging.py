"""Pages follow each other without a gap, whatever is added meanwhile."""

import pytest

from fleet.accounts.policy import SERVICE
from fleet.catalogue.actions import add_line
from fleet.garage.actions import register_rider


@pytest.fixture
def customers(tarn):
    return [
        register_rider(by=SERVICE, code=f"c-{n:03}", name=f"Customer {n}", registered_with=tarn)
        for n in range(7)
    ]


def walk(client, address):
    pages = []
    while address:
        page = client.get(address).json()
        pages.append([row["code"] for row in page["results"]])
        address = page["next"]
    return pages


def test_pages_show_every_row_once_and_in_order(ask, fitter, customers):
    pages = walk(ask(fitter), "/api/v1/riders?page_size=3")

    assert pages == [["c-000", "c-001", "c-002"], ["c-003", "c-004", "c-005"], ["c-006"]]


def test_a_row_added_before_the_cursor_moves_nothing(ask, fitter, customers, tarn):
    client = ask(fitter)
    first = client.get("/api/v1/riders?page_size=3").json()

    register_rider(by=SERVICE, code="c-0005", name="Late", registered_with=tarn)
    second = client.get(first["next"]).json()

    assert [row["code"] for row in second["results"]] == ["c-003", "c-004", "c-005"]


def test_rows_that_tie_in_the_first_keys_are_told_apart_by_the_next(ask, rider_person, db):
    for name in ("C", "A", "D", "B"):
        add_line(by=SERVICE, maker="Mirrin", name=name, category="slick")
    client, names, address = ask(rider_person), [], "/api/v1/lines?page_size=1"

    while address:
        page = client.get(address).json()
        names += [row["name"] for row in page["results"]]
        address = page["next"]

    assert names == ["A", "B", "C", "D"]


def test_newest_first_pages_by_time(ask, stock_manager, world):
    world.grow(3)
    client, seen, address = ask(stock_manager), [], "/api/v1/movements?page_size=4"

    while address:
        page = client.get(address).json()
        seen += [(row["moved_at"], row["id"]) for row in page["results"]]
        address = page["next"]

    whole = [(row["moved_at"], row["id"]) for row in client.get("/api/v1/movements").json()["results"]]
    assert seen == whole
    assert [moved for moved, _ in seen] == sorted((moved for moved, _ in seen), reverse=True)
    assert len(set(seen)) == len(seen) > 8


def test_a_page_keeps_its_filters(ask, fitter, customers):
    page = ask(fitter).get("/api/v1/riders?page_size=1&name=customer").json()

    assert "name=customer" in page["next"]
    assert "page_size=1" in page["next"]


@pytest.mark.parametrize("size", ["0", "201", "-1", "ten", "1.5", "", "1" * 5000])
def test_a_page_size_out_of_bounds_is_refused(ask, fitter, size):
    answer = ask(fitter).get(f"/api/v1/riders?page_size={size}")

    assert answer.status_code == 422
    assert "1 to 200" in answer.json()["errors"]["page_size"][0]


@pytest.mark.parametrize(
    "cursor",
    [
        "x",
        "bm8=",
        "W10=",
        "WyJhIl0=",  # ["a"]: a key is missing
        "WyJhIiwgImIiXQ==",  # ["a", "b"]: the second is no id
        "WyJhIiwgbnVsbF0=",  # ["a", null]
        "WyJhXHUwMDAwIiwgIjAwMDAwMDAwLTAwMDAtNDAwMC04MDAwLTAwMDAwMDAwMDAwMCJd",  # a NUL in the first
        "W" * 9000,
    ],
)
def test_a_cursor_made_by_hand_is_refused(ask, fitter, customers, cursor):
    answer = ask(fitter).get(f"/api/v1/riders?cursor={cursor}")

    assert answer.status_code == 422
    assert "cursor" in answer.json()["errors"]
