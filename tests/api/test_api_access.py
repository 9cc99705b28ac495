"""What is told of a row that is not the asker's, in bodies: the same as of one that never was."""

import uuid

# An id that no row has.
NEVER = uuid.UUID("00000000-0000-4000-8000-000000000000")


NAMED_IN_INPUT = [
    ("riders", "registered_with", "organisation"),
    ("bikes", "rider", "rider"),
    ("wheel-pairs", "bike", "bike"),
    ("instruments", "rider", "rider"),
    ("instruments", "organisation", "organisation"),
    ("lots", "vendor", "organisation"),
    ("movements", "lot", "lot"),
    ("tires", "rider", "rider"),
    ("tires", "vendor", "organisation"),
    ("tickets", "wheel_pair", "wheel-pair"),
    ("tickets", "vendor", "organisation"),
    ("fittings", "wheel_pair", "wheel-pair"),
    ("fittings", "lot", "lot"),
    ("fittings", "tire", "tire"),
    ("fittings", "ticket", "ticket"),
    ("fittings", "vendor", "organisation"),
    ("fittings/replace", "wheel_pair", "wheel-pair"),
    ("fittings/replace", "lot", "lot"),
    ("fittings/replace", "tire", "tire"),
    ("holds", "tire", "tire"),
    ("holds", "placed_for", "organisation"),
    ("inspections", "tire", "tire"),
    ("inspections", "inspected_for", "organisation"),
    ("recalls", "entered_for", "organisation"),
    ("sidewalls", "tire", "tire"),
    ("sidewalls", "read_for", "organisation"),
    ("events", "organiser", "organisation"),
    ("days", "event", "event"),
    ("groups", "event", "event"),
    ("slots", "day", "day"),
    ("slots", "group", "group"),
    ("entries", "day", "day"),
    ("entries", "bike", "bike"),
    ("entries", "group", "group"),
    ("conditions", "day", "day"),
    ("conditions/metar", "day", "day"),
    ("stints", "wheel_pair", "wheel-pair"),
    ("stints", "day", "day"),
    ("stints", "instrument", "instrument"),
    ("pressures", "tire", "tire"),
    ("pressures", "stint", "stint"),
    ("pressures", "instrument", "instrument"),
    ("treads", "tire", "tire"),
    ("treads", "instrument", "instrument"),
    ("temperatures", "tire", "tire"),
    ("temperatures", "stint", "stint"),
    ("feel-notes", "stint", "stint"),
    ("surface-notes", "tire", "tire"),
    ("surface-notes", "vendor", "organisation"),
    ("shapes", "tire", "tire"),
    ("contours", "tire", "tire"),
    ("reference-notes", "organisation", "organisation"),
    ("tire-tests", "bike", "bike"),
    ("tire-tests", "candidate_pair", "wheel-pair"),
    ("test-steps", "test", "tire-test"),
    ("test-runs", "test", "tire-test"),
    ("test-runs", "stint", "stint"),
    ("adjustments", "wheel_pair", "wheel-pair"),
    ("invitations", "rider", "rider"),
    ("handovers", "tire", "tire"),
]


def test_a_row_of_somebody_else_is_refused_in_input_like_one_that_never_was(ask, world, stranger):
    client = ask(stranger)

    for address, field, noun in NAMED_IN_INPUT:
        theirs = client.post(f"/api/v1/{address}", {field: str(world.rows[noun].pk)})
        never = client.post(f"/api/v1/{address}", {field: str(NEVER)})

        assert theirs.status_code == 422, address
        assert "nothing with this id" in theirs.json()["errors"][field][0]
        assert theirs.json() == never.json()


def test_nobody_claims_a_rider_record_for_somebody_else(ask, stranger, rider_person):
    body = {"code": "r-900", "name": "Robin", "person": str(rider_person.pk)}

    answer = ask(stranger).post("/api/v1/riders", body)

    assert "person" in answer.json()["errors"]


def test_drafts_show_the_lines_of_riders_only_to_those_with_the_right_to_them(ask, world, crew, tester):
    address = f"/api/v1/days/{world.rows['day'].pk}/guidance"

    whole, board = (ask(person).get(address).json()["lines"] for person in (crew, tester))

    assert {line["entry"] for line in whole} == {None, str(world.rows["entry"].pk)}
    assert {line["entry"] for line in board} == {None}


def test_entrants_read_their_own_lines_and_no_draft(ask, world, rider_person, stranger):
    """A vendor's fitter who also rides is an entrant like any other."""
    address = f"/api/v1/days/{world.rows['day'].pk}"
    world.enter_also(stranger)

    for person, lines in ((rider_person, 2), (stranger, 0)):
        assert ask(person).get(f"{address}/guidance").status_code == 403
        assert len(ask(person).get(f"{address}/own-lines").json()) == lines
