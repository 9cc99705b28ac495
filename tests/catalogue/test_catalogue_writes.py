"""What can be bought: lines, specs, published pressures and reference notes."""

from datetime import date

import pytest

from fleet.accounts.policy import SERVICE
from fleet.catalogue.actions import add_line, add_spec, note_reference, publish_pressure
from fleet.catalogue.models import PressureSpec, TireSpec
from fleet.errors import Invalid, NotAllowed


def spec_of(line, **changes):
    given = {
        "code": "lowmoor-td-f-2",
        "axle": "front",
        "size": "120/70 R17 M/C 58W",
        "new_depth_mm": 5.0,
        "wear_limit_mm": 1.0,
        "lower_kpa": 160.0,
        "upper_kpa": 260.0,
    }
    return add_spec(by=SERVICE, line=line, **(given | changes))


# Size designations as printed in UN Regulation 75, annexes 1 to 3, and its older forms.
@pytest.mark.parametrize("size", ["120/70 ZR17 M/C (58W)", "180/55-17", "120/70R17 58W", "110/80-18"])
def test_size_designations_of_the_regulation_are_read(size, line):
    spec = spec_of(line, size=size)

    assert TireSpec.objects.get(pk=spec.pk).size == size


@pytest.mark.parametrize(
    ("changes", "field", "says"),
    [
        ({"size": "large"}, "size", "large"),
        ({"axle": "middle"}, "axle", "middle"),
        ({"new_depth_mm": 50.0}, "new_depth_mm", "check the unit"),
        ({"wear_limit_mm": 5.0}, "", "below the new tread depth"),
        ({"lower_kpa": 29.0}, "lower_kpa", "check the unit"),
        ({"upper_kpa": 1999.0}, "upper_kpa", "check the unit"),
        ({"lower_kpa": 270.0}, "", "below the upper one"),
        ({"new_depth_mm": float("nan")}, "new_depth_mm", "no measurement"),
        ({"heat_cycle_limit": -1}, "heat_cycle_limit", "greater than or equal to 0"),
    ],
)
def test_a_spec_that_cannot_be_is_refused_with_the_reason(changes, field, says, line):
    with pytest.raises(Invalid, match=says) as refused:
        spec_of(line, **changes)

    assert refused.value.field == field
    assert not TireSpec.objects.exists()


def test_the_same_tire_is_listed_once(line, front_spec):
    with pytest.raises(Invalid):
        spec_of(line, size=front_spec.size)


def test_a_line_has_a_category_of_the_list(db):
    with pytest.raises(Invalid) as refused:
        add_line(by=SERVICE, maker="Mirrin", name="Rill W", category="snow")

    assert refused.value.field == "category"


def test_a_cold_pressure_says_the_temperature_it_refers_to(line):
    with pytest.raises(Invalid) as refused:
        publish_pressure(
            by=SERVICE, line=line, axle="front", basis="cold", pressure_kpa=210.0, published_by="Mirrin"
        )

    assert refused.value.field == "reference_c"


def test_a_pressure_for_a_spec_stays_with_its_line_and_axle(line, front_spec):
    with pytest.raises(Invalid) as refused:
        publish_pressure(
            by=SERVICE,
            line=line,
            spec=front_spec,
            axle="rear",
            basis="hot",
            pressure_kpa=210.0,
            published_by="Mirrin",
        )

    assert refused.value.field == "spec"


def test_one_basis_is_published_once_for_a_line_and_once_for_a_spec(line, front_spec):
    hot = {"by": SERVICE, "line": line, "axle": "front", "basis": "hot", "published_by": "Mirrin"}
    publish_pressure(pressure_kpa=230.0, **hot)
    publish_pressure(pressure_kpa=232.0, spec=front_spec, **hot)

    with pytest.raises(Invalid):
        publish_pressure(pressure_kpa=240.0, **hot)
    with pytest.raises(Invalid):
        publish_pressure(pressure_kpa=240.0, spec=front_spec, **hot)

    assert PressureSpec.objects.count() == 2


def test_a_reference_note_in_psi_is_recognised_as_a_wrong_unit(front_spec):
    with pytest.raises(Invalid, match="check the unit"):
        note_reference(
            by=SERVICE,
            spec=front_spec,
            basis="hot",
            pressure_kpa=33.0,
            noted_on=date(2026, 5, 2),
            source="paddock",
        )


def test_the_catalogue_is_shared_so_only_the_service_writes_it(line, front_spec, stock_manager, director):
    for somebody in (stock_manager, director):
        with pytest.raises(NotAllowed):
            add_line(by=somebody, maker="Mirrin", name="Rill W", category="wet")
        with pytest.raises(NotAllowed):
            publish_pressure(
                by=somebody, line=line, axle="front", basis="hot", pressure_kpa=230.0, published_by="us"
            )
        with pytest.raises(NotAllowed):
            note_reference(
                by=somebody,
                spec=front_spec,
                basis="hot",
                pressure_kpa=230.0,
                noted_on=date(2026, 5, 2),
                source="us",
            )
