"""A folder comes in through the actions: complete, once, and with the moments it gives."""

from datetime import UTC, datetime

from fleet.accounts.models import Membership
from fleet.inventory.models import Fitting, Tire
from fleet.inventory.queries import left_at
from fleet.running.models import PressureReading, Stint


def outcome(report, name):
    return next(one for one in report.outcomes if one.file == f"{name}.csv")


def test_a_small_folder_is_stored_whole(bring_in, rows):
    report = bring_in(rows)

    assert report.faults == []
    assert report.is_done
    assert {one.file: one.added for one in report.outcomes} == {
        f"{name}.csv": len(records) for name, records in rows.items()
    }


def test_a_second_import_changes_nothing_and_says_what_was_there(bring_in, rows):
    bring_in(rows)

    again = bring_in(rows)

    assert again.is_done
    assert sum(one.added for one in again.outcomes) == 0
    assert all(one.there_already == one.rows for one in again.outcomes)
    assert PressureReading.objects.count() == len(rows["pressures"])


def test_a_tire_from_a_lot_leaves_the_ledger(bring_in, rows):
    bring_in(rows)

    tire = Tire.objects.get(label_code="LABELF")
    assert tire.lot.code == "lot-f"
    assert left_at(tire.lot, "trailer") == 3


def test_roles_come_with_the_people(bring_in, rows):
    bring_in(rows)

    roles = Membership.objects.filter(person__email="fen@example.org").values_list(
        "organisation__code", "role"
    )
    assert set(roles) == {("tarn", "fitter"), ("longfield", "crew")}


def test_nobody_can_sign_in_with_an_imported_account_before_a_password_is_set(bring_in, rows):
    bring_in(rows)

    people = {one.person for one in Membership.objects.select_related("person")}
    assert not any(person.has_usable_password() for person in people)


def test_a_stint_without_a_distance_counts_its_laps(bring_in, rows):
    bring_in(rows)

    assert Stint.objects.get().distance_km == 8 * 4.12


def test_the_moment_of_recording_is_kept_where_it_is_given(bring_in, rows):
    rows["stints"][0]["recorded_at"] = "2026-06-12T09:30:00Z"

    bring_in(rows)

    assert Stint.objects.get().recorded_at == datetime(2026, 6, 12, 9, 30, tzinfo=UTC)


def test_a_moment_with_an_offset_is_the_same_moment(bring_in, rows):
    bring_in(rows)

    assert Stint.objects.get().started_at == datetime(2026, 6, 12, 9, 0, tzinfo=UTC)


def test_the_known_offset_of_a_gauge_is_taken_off_once(bring_in, rows):
    rows["instruments"] = [
        {"code": "g-1", "name": "gauge", "kind": "pressure", "rider": "r-1", "offset_kpa": "4.5"}
    ]
    rows["pressures"] = [{**rows["pressures"][1], "instrument": "g-1"}]

    bring_in(rows)

    assert PressureReading.objects.get().pressure_kpa == 220.0


def test_a_voided_fitting_frees_its_axle_for_the_one_that_replaces_it(bring_in, rows, key):
    wrong = rows["fittings"][0]
    right = {**wrong, "key": key("right"), "tire": "LABELX"}
    wrong |= {
        "voided_at": "2026-06-12T07:30:00Z",
        "void_reason": "wrong label",
        "recorded_at": "2026-06-12T07:00:00Z",
    }
    right |= {"recorded_at": "2026-06-12T07:40:00Z"}
    rows["fittings"].append(right)
    rows["pressures"] = []
    del rows["pressures"]

    report = bring_in(rows)

    assert report.faults == []
    assert Fitting.objects.filter(axle="front", voided_at__isnull=True).get().tire.label_code == "LABELX"
    assert left_at(Tire.objects.get(label_code="LABELX").lot, "trailer") == 3


def test_a_voiding_that_came_later_is_brought_to_a_stored_fact(bring_in, rows):
    bring_in(rows)
    rows["pressures"][0] |= {"voided_at": "2026-06-12T17:00:00Z", "void_reason": "read the wrong wheel"}

    report = bring_in(rows)

    assert outcome(report, "pressures").ended == 1
    assert PressureReading.objects.filter(voided_at__isnull=False).get().void_reason == "read the wrong wheel"


def test_a_tire_is_changed_at_the_very_moment_the_old_one_comes_off(bring_in, rows, key):
    off = {"fitting": rows["fittings"][0]["key"], "removed_at": "2026-06-12T12:00:00Z"}
    rows["removals"] = [{"key": key("off"), **off, "reason": "worn", "destination": "scrapped"}]
    rows["fittings"].append(
        {**rows["fittings"][0], "key": key("on"), "fitted_at": "2026-06-12T12:00:00Z", "tire": "LABELN"}
    )

    report = bring_in(rows)

    assert report.faults == []
    assert Fitting.objects.filter(axle="front").count() == 2
