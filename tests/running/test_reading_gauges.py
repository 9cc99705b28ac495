"""Readings: kept as truth without the gauge's offset, doubted where they contradict, refused where they cannot be."""

import uuid
from datetime import timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.errors import InTheFuture, Invalid, KeyReused, NotFound
from fleet.garage.actions import add_instrument
from fleet.inventory.actions import add_own_tire
from fleet.running.actions import record_shape, record_temperature, void_reading, void_stint
from fleet.running.errors import AboveNew, StintVoided
from fleet.running.models import PressureReading, TreadReading
from fleet.running.queries import pressures_for, treads_for


def test_a_pressure_of_290_psi_is_recognised_as_a_wrong_unit(read_pressure):
    with pytest.raises(Invalid, match=r"over 700 kPa .* check the unit") as refused:
        read_pressure(pressure_kpa=1999.0)

    assert refused.value.field == "pressure_kpa"


@pytest.mark.parametrize("kpa", [2.1, 30.0, -200.0, float("nan"), float("inf")])
def test_a_pressure_in_bar_or_psi_or_of_nothing_is_refused(kpa, read_pressure):
    with pytest.raises(Invalid) as refused:
        read_pressure(pressure_kpa=kpa)

    assert refused.value.field == "pressure_kpa"
    assert not PressureReading.objects.exists()


def test_what_a_gauge_reads_too_much_is_taken_off(read_pressure, rider):
    gauge = add_instrument(by=SERVICE, code="g-1", name="own", kind="pressure", rider=rider, offset_kpa=4.0)

    assert read_pressure(instrument=gauge, pressure_kpa=209.0).pressure_kpa == 205.0


def test_a_gauge_measures_only_what_it_is_made_for(read_pressure, read_tread, rider):
    pressure = add_instrument(by=SERVICE, code="g-1", name="own", kind="pressure", rider=rider)
    depth = add_instrument(by=SERVICE, code="g-2", name="own", kind="depth", rider=rider)

    for read, wrong in ((read_pressure, depth), (read_tread, pressure)):
        with pytest.raises(Invalid, match="does not measure this") as refused:
            read(instrument=wrong)
        assert refused.value.field == "instrument"


def test_nobody_reads_with_somebody_elses_gauge(
    read_pressure, rider_person, other_rider, fitter, tarn, breckside
):
    theirs = add_instrument(by=SERVICE, code="g-1", name="x", kind="pressure", rider=other_rider)
    other_trailer = add_instrument(by=SERVICE, code="g-2", name="x", kind="pressure", organisation=breckside)
    ours = add_instrument(by=SERVICE, code="g-3", name="x", kind="pressure", organisation=tarn)

    for by, vendor, gauge in (
        (rider_person, None, theirs),
        (rider_person, None, ours),
        (fitter, tarn, other_trailer),
        (fitter, tarn, theirs),
    ):
        with pytest.raises(Invalid, match="somebody else"):
            read_pressure(by=by, vendor=vendor, instrument=gauge)

    assert read_pressure(by=fitter, vendor=tarn, instrument=ours).instrument == ours


def test_a_hot_reading_below_the_set_one_is_kept_but_doubtful(stint, read_pressure):
    reading = read_pressure(stint=stint, moment="in", taken_at=stint.ended_at, pressure_kpa=198.0)

    kept = PressureReading.objects.get(pk=reading.pk)
    assert "198 kPa hot after 205 kPa was set" in kept.doubt
    assert kept.voided_at is None


@pytest.mark.parametrize("kpa", [205.0, 232.0])
def test_a_hot_reading_at_or_above_the_set_one_is_not_doubted(kpa, stint, read_pressure):
    assert read_pressure(stint=stint, moment="in", pressure_kpa=kpa).doubt == ""


def test_warmers_or_a_cooler_tire_explain_a_lower_reading(log, day, entry, read_pressure):
    warmed = log(front_set_kpa=230.0, set_tire_c=70.0, warmers_c=80.0)

    assert read_pressure(stint=warmed, moment="in", pressure_kpa=224.0).doubt == ""


def test_a_tire_read_cooler_than_it_was_set_may_read_lower(log, read_pressure):
    stint = log(front_set_kpa=205.0, set_tire_c=45.0)

    assert read_pressure(stint=stint, moment="later", tire_c=30.0, pressure_kpa=198.0).doubt == ""
    assert read_pressure(stint=stint, moment="later", tire_c=60.0, pressure_kpa=198.0).doubt != ""


def test_a_tread_depth_above_new_is_refused_and_gauge_noise_is_not(read_tread):
    with pytest.raises(AboveNew, match=r"6.0 mm is more tread than .* has when new .5.0 mm."):
        read_tread(depth_mm=6.0)

    assert read_tread(depth_mm=5.2).depth_mm == 5.2


@pytest.mark.parametrize("depth_mm", [-0.1, float("nan"), float("inf")])
def test_a_depth_that_is_none_is_refused(depth_mm, read_tread):
    with pytest.raises(Invalid) as refused:
        read_tread(depth_mm=depth_mm)

    assert refused.value.field == "depth_mm"
    assert not TreadReading.objects.exists()


def test_tread_that_grows_is_kept_but_doubtful_in_its_own_zone_only(read_tread, now):
    read_tread(taken_at=now - timedelta(days=1), depth_mm=3.0)

    grown = read_tread(depth_mm=4.0)
    other_zone = read_tread(zone="L2", depth_mm=4.0)

    assert "4.0 mm after 3.0 mm in the same zone" in grown.doubt
    assert other_zone.doubt == ""


def test_a_reading_tomorrow_is_refused(read_pressure, read_tread, now):
    tomorrow = now + timedelta(days=1)

    with pytest.raises(InTheFuture):
        read_pressure(taken_at=tomorrow)
    with pytest.raises(InTheFuture):
        read_tread(taken_at=tomorrow)


def test_a_reading_belongs_to_a_tire_that_ran_the_stint(stint, read_pressure, rider, front_spec, now):
    spare = add_own_tire(by=SERVICE, at=now, rider=rider, spec=front_spec)

    with pytest.raises(Invalid) as refused:
        read_pressure(tire=spare, stint=stint)

    assert refused.value.field == "tire"


def test_nothing_is_read_for_a_voided_stint(stint, read_pressure, rider_person, now):
    void_stint(by=rider_person, at=now, stint=stint, reason="did not go out")

    with pytest.raises(StintVoided):
        read_pressure(stint=stint)


@pytest.mark.parametrize("field", ["moment", "zone"])
def test_readings_use_the_listed_words(field, read_pressure, read_tread):
    read = read_pressure if field == "moment" else read_tread

    with pytest.raises(Invalid) as refused:
        read(**{field: "somewhere"})

    assert refused.value.field == field


def test_readings_sent_twice_are_stored_once_and_their_keys_serve_no_other(read_pressure, read_tread):
    for read, other in ((read_pressure, {"pressure_kpa": 210.0}), (read_tread, {"depth_mm": 4.0})):
        key = uuid.uuid4()
        assert read(key=key) == read(key=key)
        with pytest.raises(KeyReused):
            read(key=key, **other)

    assert (PressureReading.objects.count(), TreadReading.objects.count()) == (1, 1)


def test_surface_temperatures_and_lengths_are_read_and_kept_once(stint, fitted, now):
    tire, key = fitted["rear"].tire, uuid.uuid4()
    hot = {"by": SERVICE, "at": now, "tire": tire, "zone": "R1", "taken_at": now, "stint": stint}
    shape = {"by": SERVICE, "at": now, "tire": tire, "quantity": "roll_out", "taken_at": now}

    assert record_temperature(**hot, surface_c=78.0, key=key) == record_temperature(
        **hot, surface_c=78.0, key=key
    )
    with pytest.raises(KeyReused):
        record_temperature(**hot, surface_c=80.0, key=key)
    with pytest.raises(Invalid, match="check the unit"):
        record_temperature(**hot, surface_c=351.0)
    assert record_shape(**shape, length_mm=1985.0).length_mm == 1985.0
    with pytest.raises(Invalid):
        record_shape(**shape, length_mm=19850.0)


def test_the_serving_crew_reads_at_the_trailer_and_nobody_else(
    read_pressure, read_tread, fitter, tarn, stranger, breckside, crew, longfield, other_rider, entry
):
    assert read_pressure(by=fitter, vendor=tarn).recorded_by == fitter

    for by, vendor in ((stranger, breckside), (stranger, tarn), (fitter, None), (other_rider.person, None)):
        for read in (read_pressure, read_tread):
            with pytest.raises(NotFound):
                read(by=by, vendor=vendor)
    assert (PressureReading.objects.count(), TreadReading.objects.count()) == (1, 0)


def test_a_reading_is_voided_by_the_rider_or_by_who_took_it(
    read_pressure, fitter, stock_manager, tarn, rider_person, stranger, other_rider, now
):
    first, second = (read_pressure(by=fitter, vendor=tarn) for _ in range(2))

    for nobody in (stranger, other_rider.person, stock_manager):
        with pytest.raises(NotFound):
            void_reading(by=nobody, at=now, reading=first, reason="mischief")
    void_reading(by=fitter, at=now, reading=first, reason="wrong tire")
    void_reading(by=rider_person, at=now, reading=second, reason="wrong tire")

    assert [r.voided_by for r in (first, second)] == [fitter, rider_person]


def test_what_the_service_imported_is_not_everybodys_to_void(read_pressure, stranger, now):
    imported = read_pressure()

    with pytest.raises(NotFound):
        void_reading(by=stranger, at=now, reading=imported, reason="mischief")


def test_the_organiser_sees_entrants_pressures_for_thirty_days(stint, crew, inspector, fitter, day):
    assert pressures_for(crew, on=day.date).count() == 2
    assert pressures_for(crew, on=day.date + timedelta(days=30)).count() == 2
    assert not pressures_for(crew, on=day.date + timedelta(days=31)).exists()
    assert not pressures_for(inspector, on=day.date).exists()
    assert not pressures_for(fitter, on=day.date).exists()


def test_tread_is_seen_by_the_rider_and_the_serving_vendor(
    read_tread, rider_person, fitter, stranger, other_rider, crew, entry
):
    reading = read_tread()

    assert list(treads_for(rider_person)) == list(treads_for(fitter)) == [reading]
    assert [treads_for(by).count() for by in (stranger, other_rider.person, crew)] == [0, 0, 0]
