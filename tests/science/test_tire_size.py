import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.science.tire_size import (
    LOAD_KG,
    RIM_MM,
    SPEED_KMH,
    TireSize,
    UnreadableSize,
    diameter_mm,
    parse_size,
)


@pytest.mark.parametrize(
    ("text", "expected_mm"),
    [
        ("120/70 ZR17", 600.0),
        ("180/55 ZR17", 630.0),
        ("190/55 ZR17", 641.0),
        ("200/55 ZR17", 652.0),
        ("160/60 ZR17", 624.0),
        ("110/80 R18", 633.0),
    ],
)
def test_the_design_diameter_is_that_of_the_regulation(text, expected_mm):
    # UN Regulation 75: D = d + 2 H, with d 432 mm for rim code 17 and 457 for 18.
    size = parse_size(text)

    assert size.diameter_mm == expected_mm
    assert size.radius_mm == expected_mm / 2


def test_many_sizes_are_computed_at_once():
    assert diameter_mm([120, 180], [70, 55], 432).tolist() == [600.0, 630.0]
    assert np.isnan(diameter_mm([120, np.nan], 70, 432)).tolist() == [False, True]


@pytest.mark.parametrize("rim_code", sorted(RIM_MM))
def test_a_rim_code_is_its_diameter_in_inches_to_the_nearest_millimeter(rim_code):
    # UN Regulation 75, nominal rim diameters; that they are rounded inches is from memory.
    assert RIM_MM[rim_code] == round(rim_code * 25.4)


def test_load_indices_carry_the_loads_of_the_official_table():
    # French order of 24 October 1994 on tires, Annex II, load capacity indices in kg.
    official = {
        43: 155, 45: 165, 48: 180, 50: 190, 54: 212, 55: 218, 56: 224, 57: 230, 58: 236, 60: 250, 62: 265,
        65: 290, 66: 300, 69: 325, 70: 335, 72: 355, 73: 365, 75: 387, 76: 400, 78: 425, 80: 450,
    }  # fmt: skip

    assert {index: LOAD_KG[index] for index in official} == official


def test_the_other_load_indices_are_those_of_the_regulation():
    # UN Regulation 75, table of load-capacity indices (from memory); one row per index from 40 to 82.
    remembered = {
        40: 140, 41: 145, 42: 150, 44: 160, 46: 170, 47: 175, 49: 185, 51: 195, 52: 200, 53: 206, 59: 243, 61: 257,
        63: 272, 64: 280, 67: 307, 68: 315, 71: 345, 74: 375, 77: 412, 79: 437, 81: 462, 82: 475,
    }  # fmt: skip

    assert {index: LOAD_KG[index] for index in remembered} == remembered
    assert sorted(LOAD_KG) == list(range(40, 83))


def test_every_load_index_is_one_step_of_eighty_to_the_tenfold_load():
    # Preferred numbers of ISO 3 (series R80, ratio 10^(1/80)) from 250 kg at 60, rounded by up to 2 percent
    # (from memory).
    for index, load_kg in LOAD_KG.items():
        assert load_kg == pytest.approx(250 * 10 ** ((index - 60) / 80), rel=0.02)


def test_speed_symbols_carry_the_speeds_of_the_official_table():
    # French order of 24 October 1994 on tires, Annex I; W from memory of UN Regulation 75.
    official = {"P": 150, "Q": 160, "R": 170, "S": 180, "T": 190, "U": 200, "H": 210, "V": 240, "W": 270}

    assert {symbol: SPEED_KMH[symbol] for symbol in official} == official


def test_the_other_speed_symbols_are_those_of_the_regulation():
    # UN Regulation 75, table of speed categories (from memory).
    remembered = {"J": 100, "K": 110, "L": 120, "M": 130, "N": 140, "Y": 300}

    assert {symbol: SPEED_KMH[symbol] for symbol in remembered} == remembered


def test_every_whole_rim_code_of_a_motorcycle_is_known():
    assert sorted(RIM_MM) == list(range(10, 22))


def test_a_full_designation_is_taken_apart():
    size = parse_size("120/70 ZR17 M/C (58W)")

    assert size == TireSize(
        width_mm=120,
        aspect=70,
        construction="radial",
        rim_code=17,
        is_over_240=True,
        has_cycle_mark=True,
        load_index=58,
        speed_symbol="W",
        is_bracketed=True,
    )
    assert (size.load_kg, size.speed_kmh, size.is_speed_a_floor) == (236, 270, True)
    assert size.section_height_mm == 84.0


@pytest.mark.parametrize(
    ("text", "construction"),
    [
        ("120/70-17", "diagonal"),
        ("120/70D17", "diagonal"),
        ("120/70R17", "radial"),
        ("120/70 r 17", "radial"),
        ("120/70B17", "bias-belted"),
    ],
)
def test_other_spellings_and_constructions_are_read(text, construction):
    size = parse_size(text)

    assert (size.width_mm, size.aspect, size.rim_code) == (120, 70, 17)
    assert size.construction == construction


def test_without_a_service_description_load_and_speed_are_unknown():
    size = parse_size("120/70R17")

    assert (size.load_kg, size.speed_kmh, size.is_speed_a_floor) == (None, None, False)


def test_a_z_in_the_size_alone_means_over_240():
    size = parse_size("200/55 zr17 tl")

    assert (size.speed_kmh, size.is_speed_a_floor) == (240, True)


def test_an_unbracketed_symbol_is_the_limit():
    size = parse_size("110/80-18 58H TL")

    assert (size.speed_kmh, size.is_speed_a_floor) == (210, False)


@given(
    st.integers(50, 400),
    st.integers(25, 100),
    st.sampled_from(["radial", "diagonal", "bias-belted"]),
    st.sampled_from(sorted(RIM_MM)),
    st.booleans(),
    st.booleans(),
    st.one_of(st.none(), st.tuples(st.sampled_from(sorted(LOAD_KG)), st.sampled_from(sorted(SPEED_KMH)))),
    st.booleans(),
)
def test_every_regular_spelling_reads_back(width, aspect, construction, rim, over, cycle, service, bracketed):
    load, speed = service or (None, None)
    size = TireSize(
        width, aspect, construction, rim, over, cycle, load, speed, bracketed and service is not None
    )

    assert parse_size(size.designation) == size
    assert parse_size(size.designation.lower().replace(" ", "")) == size


@given(st.floats(50, 400), st.floats(25, 100), st.floats(1, 50))
def test_a_wider_or_taller_tire_is_larger_than_its_rim(width_mm, aspect, more):
    base_mm = diameter_mm(width_mm, aspect, 432)

    assert 432 < base_mm < diameter_mm(width_mm + more, aspect, 432)
    assert base_mm - 432 == pytest.approx(2 * width_mm * aspect / 100)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("3.50-18", r"inch or letter designation.* give the metric size, such as 110/80-18"),
        ("4.00 H 18", "inch or letter designation"),
        ("4.25/85-18", "inch or letter designation"),
        ("MT90-16", "inch or letter designation"),
        ("", "An empty text is not a size designation; it must look like"),
        ("120 70 17", "not a size designation"),
        ("120/70 VR17", "not a size designation"),
        ("120/600 R17", "aspect ratio of 25 to 100 percent, not 600"),
        ("120/10 R17", "aspect ratio of 25 to 100 percent, not 10"),
        ("500/70 R17", "The width must be 50 to 400 mm, not 500"),
        ("120/70 R27", "The rim code must be 10 to 21, not 27"),
        ("120/70 R17 (58W", r"has one bracket; write the service description as 58W or \(58W\)"),
        ("120/70 R17 99W", "The load index must be 40 to 82, not 99"),
        ("120/70 R17 58X", "The speed symbol must be one of J K L"),
    ],
)
def test_anything_else_is_refused_with_a_sentence(text, sentence):
    with pytest.raises(UnreadableSize, match=sentence):
        parse_size(text)


def test_an_impossible_aspect_is_refused_with_name_limit_and_value():
    with pytest.raises(ValueError, match="aspect must be at most 100, not 170"):
        diameter_mm(120, 170, 432)
