"""Input is taken as it is written, or refused with what would be right."""

import pytest

from api.serializers import Amount, Choice, Date, In, Key, Moment, Number, Text, Truth, Whole


class Everything(In):
    text = Text(required=False, max_length=10)
    choice = Choice([("front", "Front"), ("rear", "Rear")], required=False)
    number = Number(required=False, allow_null=True)
    whole = Whole(required=False)
    truth = Truth(required=False)
    amount = Amount(max_digits=6, decimal_places=2, required=False)
    moment = Moment(required=False)
    date = Date(required=False)
    key = Key()


def errors(**body):
    read = Everything(data=body)
    read.is_valid()
    return {name: str(said[0]) for name, said in read.errors.items()}


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("text", 12),
        ("text", True),
        ("text", None),
        ("text", ["a"]),
        ("text", "\x00"),
        ("text", "\ud800"),
        ("text", "far too long a text"),
        ("choice", "middle"),
        ("choice", ""),
        ("choice", 1),
        ("number", "12"),
        ("number", True),
        ("number", float("inf")),
        ("number", 10**400),
        ("whole", "12"),
        ("whole", 12.5),
        ("whole", False),
        ("whole", 2**31),
        ("truth", "true"),
        ("truth", 1),
        ("amount", 84.5),
        ("amount", "84.555"),
        ("amount", "NaN"),
        ("moment", "2026-06-12T09:30:00"),
        ("moment", "2026-06-12"),
        ("moment", 1781256600),
        ("moment", "0001-01-01T00:00:00+14:00"),
        ("moment", "9999-12-31T23:59:59-12:00"),
        ("date", "12.06.2026"),
        ("date", "0026-06-12"),
        ("date", 20260612),
        ("key", "1"),
        ("key", 1),
    ],
)
def test_a_value_of_another_kind_is_refused(field, value):
    assert list(errors(**{field: value})) == [field]


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("text", "a word"),
        ("choice", "front"),
        ("number", 12),
        ("number", None),
        ("whole", 12.0),
        ("truth", False),
        ("amount", "84.50"),
        ("moment", "2026-06-12T09:30:00+01:00"),
        ("date", "2026-06-12"),
        ("key", "1b4e28ba-2fa1-4d3b-a3f5-ef19b5a7633b"),
    ],
)
def test_a_value_of_the_right_kind_is_taken(field, value):
    assert errors(**{field: value}) == {}


def test_an_unknown_key_is_refused_with_the_keys_there_are():
    said = errors(presure_kpa=200)

    assert "There is no such key here" in said["presure_kpa"]
    assert "number" in said["presure_kpa"]


def test_all_mistakes_are_said_at_once():
    assert set(errors(text=1, number="2", wrong=3)) == {"text", "number", "wrong"}


@pytest.mark.parametrize("body", ["[]", '"text"', "12", "null", "true"])
def test_a_body_that_is_no_object_is_refused(ask, rider_person, body):
    answer = ask(rider_person).post("/api/v1/stints", body, content_type="application/json")

    assert (answer.status_code, answer.json()["detail"]) == (422, "Send one JSON object.")


@pytest.mark.parametrize(
    "body",
    [
        '{"code": ',
        '{"code": NaN}',
        '{"code": "a", "code": "b"}',
        "[" * 100_000,
        b"\xff\xfe",
        '{"laps": ' + "9" * 5000 + "}",
    ],
)
def test_a_body_that_is_no_plain_json_is_malformed(ask, rider_person, body):
    answer = ask(rider_person).post("/api/v1/stints", body, content_type="application/json")

    assert (answer.status_code, answer.json()["code"]) == (400, "malformed")
