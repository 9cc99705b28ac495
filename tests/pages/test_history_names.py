"""The history names things for whoever reads it: ids typed into a text are no things."""

from fleet.garage.actions import add_bike, correct_rider


def test_an_id_typed_as_text_is_not_looked_up_for_whoever_typed_it(as_, rider_person, rider, rear_lot, event):
    for theirs in (rear_lot, event):
        correct_rider(by=rider_person, rider=rider, contact=str(theirs.pk))

    page = as_(rider_person).get("/history/").content.decode()

    assert str(rear_lot.pk) in page
    assert str(event) not in page
    assert str(rear_lot) not in page


def test_an_id_typed_as_a_name_is_not_looked_up_either(as_, other_rider, rider_person, bike):
    rider = other_rider
    add_bike(by=rider.person, rider=rider, code="own", description=str(bike.pk))

    page = as_(rider.person).get("/history/").content.decode()

    assert str(bike) not in page
