import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq, minimize

from fleet.science.profile import (
    Side,
    extra_lean_deg,
    fit_circle,
    fit_profile,
    height_mm,
    lay_over,
    rolling_radius_at_lean_mm,
    touching,
    tread_shift_mm,
)

SIX_POINTS = [1, 2, 5, 7, 9, 3], [7, 6, 8, 7, 5, 7]
ROUND = (95.0, np.pi / 2, 95.0)
SQUARED = (180.0, np.radians(11), 75.0)
POINTED = (60.0, np.radians(23), 110.0)
LEANS = st.floats(0, 60)
CROWNS = st.floats(40, 130)
SIDES = st.tuples(CROWNS, st.floats(0.1, 0.9), CROWNS)
FEW = settings(max_examples=4)


def side(crown_mm, shoulder_mm=np.nan, join_deg=np.nan, edge_deg=60.0):
    return Side(crown_mm, shoulder_mm, join_deg, edge_deg, 0.0, 0.0)


def of_shape(shape, edge_deg=60.0):
    return side(shape[0], shape[2], np.degrees(shape[1]), edge_deg)


def drawn(shape, angles):
    """Points of a side whose arcs are drawn about their centers, crown at the origin; angles from upright, radians."""
    t, join, r = shape
    first, second = (
        np.array([0.0, -t]),
        np.array([0.0, -t]) + (t - r) * np.array([np.sin(join), np.cos(join)]),
    )
    out = np.stack([np.sin(angles), np.cos(angles)], axis=-1)
    return np.where((angles <= join)[..., None], first + t * out, second + r * out)


def gauge(left, right, *, edge_deg=50.0, number=21, centre=0.0, crown=0.0, noise_mm=0.0, seed=0):
    """x and z of a contour gauge laid over a tire with two drawn sides."""
    angles = np.radians(np.linspace(0, edge_deg, number))
    points = np.concatenate([drawn(left, angles)[:0:-1] * [-1, 1], drawn(right, angles)])
    points += np.random.default_rng(seed).normal(0, noise_mm, points.shape) if noise_mm else 0.0
    return points[:, 0] + centre, points[:, 1] + crown


def numbers_of(profile):
    """What a profile says, as one row."""
    sides = [
        (s.crown_radius_mm, s.shoulder_radius_mm, s.join_deg, s.edge_deg)
        for s in (profile.left, profile.right)
    ]
    return np.array([profile.crown_radius_mm, profile.rms_mm, *sides[0], *sides[1]])


def test_the_nearest_circle_is_the_published_one():
    # Gander, Golub and Strebel (1994), Least-squares fitting of circles and ellipses, BIT 34, the six points of section
    # 2 and their geometric fit (from memory).
    circle = fit_circle(*SIX_POINTS)

    assert (circle.centre_x_mm, circle.centre_z_mm) == pytest.approx((4.7398, 2.9835), abs=5e-5)
    assert circle.radius_mm == pytest.approx(4.7142, abs=5e-5)


def test_the_nearest_circle_agrees_with_an_independent_search():
    x, z = np.array(SIX_POINTS)

    def spread(centre):
        return np.var(np.hypot(x - centre[0], z - centre[1]))

    searched = minimize(spread, [5.0, 4.0], method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-15})

    circle = fit_circle(x, z)
    assert [circle.centre_x_mm, circle.centre_z_mm] == pytest.approx(searched.x, abs=1e-6)
    assert circle.rms_mm == pytest.approx(np.sqrt(searched.fun), abs=1e-9)


@given(CROWNS, st.floats(-200, 200), st.floats(-200, 200), st.floats(15, 120))
def test_points_of_a_circle_give_that_circle_back(radius_mm, x_mm, z_mm, half_deg):
    angles = np.radians(np.linspace(-half_deg, half_deg, 9))

    circle = fit_circle(x_mm + radius_mm * np.sin(angles), z_mm + radius_mm * np.cos(angles))

    assert circle.radius_mm == pytest.approx(radius_mm, abs=1e-6)
    assert (circle.centre_x_mm, circle.centre_z_mm) == pytest.approx((x_mm, z_mm), abs=1e-6)


def test_a_round_tread_rolls_smaller_and_shifts_its_contact_at_lean():
    # Worked from R - t (1 - cos 45) and t pi / 4, and t sin 45 / (h - t) for the extra lean.
    assert rolling_radius_at_lean_mm([315, 300], [95, 60], 45) == pytest.approx([287.18, 282.43], abs=5e-3)
    assert tread_shift_mm([95, 60], 45) == pytest.approx([74.6, 47.1], abs=0.05)
    assert extra_lean_deg([70, 6], [600, 26], [45, 25]) == pytest.approx([5.3587, 7.2839], abs=5e-5)


@given(CROWNS, st.floats(400, 700), LEANS)
def test_extra_lean_agrees_with_a_bike_balanced_over_its_contact(crown_mm, height_mm_, lean_deg):
    # The outline rolls on the ground, so its center stays t over it and the contact under the center; the bike corners
    # at the angle of the line from there to its center of mass.
    arm = height_mm_ - crown_mm

    def corners_at(bike_lean):
        return np.arctan2(arm * np.sin(bike_lean), crown_mm + arm * np.cos(bike_lean)) - np.radians(lean_deg)

    balanced = np.degrees(brentq(corners_at, 0.0, np.pi / 2, xtol=1e-13))

    assert lean_deg + extra_lean_deg(crown_mm, height_mm_, lean_deg) == pytest.approx(balanced, abs=1e-8)


@given(SIDES, LEANS)
def test_a_leaned_outline_touches_at_its_lowest_point(shape, lean_deg):
    outline = drawn(shape, np.radians(np.linspace(0, 60, 12_001)))
    lean = np.radians(lean_deg)
    lowest = outline[np.argmin(-outline @ [np.sin(lean), np.cos(lean)])]

    touch = touching(of_shape(shape), lean_deg)

    # One step of the outline is 0.005 degrees.
    assert (touch.across_mm, -touch.drop_mm) == pytest.approx(tuple(lowest), abs=130 * np.radians(0.005))


@given(SIDES, LEANS)
def test_the_shift_is_the_length_of_the_way_along_the_tread(shape, lean_deg):
    way = drawn(shape, np.radians(np.linspace(0, lean_deg, 2001)))

    touch = touching(of_shape(shape), lean_deg)

    assert touch.shift_mm == pytest.approx(np.hypot(*np.diff(way, axis=0).T).sum(), rel=1e-5, abs=1e-9)


@given(CROWNS, LEANS, st.floats(400, 700))
def test_one_arc_does_at_lean_what_the_formulas_of_one_arc_say(crown_mm, lean_deg, cg_mm):
    bike_lean = min(lean_deg + extra_lean_deg(crown_mm, cg_mm, lean_deg), 89.0)
    touch = touching(side(crown_mm, edge_deg=90), [lean_deg, bike_lean])

    assert touch.rolling_radius_mm(300)[0] == pytest.approx(
        rolling_radius_at_lean_mm(300, crown_mm, lean_deg)
    )
    assert touch.shift_mm[0] == pytest.approx(tread_shift_mm(crown_mm, lean_deg))
    assert touch.extra_lean_deg(cg_mm)[1] == pytest.approx(
        extra_lean_deg(crown_mm, cg_mm, lean_deg), abs=1e-9
    )


def test_beyond_the_measured_edge_nothing_is_known():
    touch = touching(of_shape(SQUARED, edge_deg=48.0), [48.0, 48.1])

    for part in (touch.across_mm, touch.drop_mm, touch.shift_mm, touch.extra_lean_deg(600)):
        assert np.isnan(part).tolist() == [False, True]


@given(SIDES, LEANS)
def test_heights_lie_on_the_outline(shape, angle_deg):
    across, up = drawn(shape, np.radians(angle_deg))

    assert height_mm(of_shape(shape, edge_deg=61), across) == pytest.approx(up, abs=1e-9)


@settings(max_examples=15)
@given(CROWNS, CROWNS, st.floats(-80, 80), st.floats(-50, 50), st.floats(35, 60))
def test_points_of_one_arc_a_side_give_those_arcs_back(left_mm, right_mm, centre, crown, edge_deg):
    x, z = gauge(
        (left_mm, np.pi / 2, 1), (right_mm, np.pi / 2, 1), edge_deg=edge_deg, centre=centre, crown=crown
    )

    profile = fit_profile(x, z, gauge_sd_mm=1e-4)

    assert (profile.centre_mm, profile.crown_mm) == pytest.approx((centre, crown), abs=1e-4)
    assert [profile.left.crown_radius_mm, profile.right.crown_radius_mm] == pytest.approx(
        [left_mm, right_mm], rel=1e-4
    )
    assert (profile.left.arcs, profile.right.arcs) == (1, 1)
    assert [profile.left.edge_deg, profile.right.edge_deg] == pytest.approx([edge_deg] * 2, abs=1e-2)


@pytest.mark.parametrize(
    ("left", "right", "arcs"),
    [
        (SQUARED, SQUARED, (2, 2)),
        (POINTED, POINTED, (2, 2)),
        (ROUND, SQUARED, (1, 2)),
        (POINTED, ROUND, (2, 1)),
    ],
)
def test_points_of_two_arcs_give_those_arcs_back(left, right, arcs):
    profile = fit_profile(*gauge(left, right, centre=12.0, crown=-3.0))

    assert (profile.left.arcs, profile.right.arcs) == arcs
    for found, shape in ((profile.left, left), (profile.right, right)):
        assert found.shape == pytest.approx(shape, rel=1e-3)
    assert profile.rms_mm < 1e-4


def test_noise_is_not_taken_for_a_second_arc_but_a_squared_tread_is():
    noisy = [fit_profile(*gauge(ROUND, ROUND, noise_mm=0.2, seed=seed)) for seed in range(3)]
    worn = [fit_profile(*gauge(SQUARED, SQUARED, noise_mm=0.2, seed=seed)) for seed in range(3)]

    assert {(one.left.arcs, one.right.arcs) for one in noisy} == {(1, 1)}
    assert {(one.left.arcs, one.right.arcs) for one in worn} == {(2, 2)}


def test_what_one_arc_misses_by_less_than_the_gauge_tells_is_no_second_arc():
    x, z = gauge(SQUARED, SQUARED)
    missed_mm = fit_profile(x, z, gauge_sd_mm=10.0).rms_mm

    within_noise, barely_beyond, beyond = (
        fit_profile(x, z, gauge_sd_mm=missed_mm / share) for share in (0.9, 1.05, 3.0)
    )

    # Barely beyond, 41 points gain at most 2 x 41 x ln 1.05 = 4.0, less than four parameters more cost.
    assert [one.left.arcs for one in (within_noise, barely_beyond, beyond)] == [1, 1, 2]


def test_the_stated_standard_deviation_is_the_scatter_of_repeated_fits():
    fits = [fit_profile(*gauge(ROUND, ROUND, noise_mm=0.1, seed=seed), gauge_sd_mm=0.3) for seed in range(60)]

    scatter = np.std([one.crown_radius_mm for one in fits], ddof=1)

    # Sixty draws give a standard deviation to about 10 %.
    assert np.mean([one.crown_radius_sd_mm for one in fits]) == pytest.approx(scatter, rel=0.3)
    scatter = np.std([one.left.crown_radius_mm for one in fits], ddof=1)
    assert np.mean([one.left.crown_radius_sd_mm for one in fits]) == pytest.approx(scatter, rel=0.3)


def test_the_fit_agrees_with_an_independent_search_over_a_drawn_outline():
    x, z = gauge(SQUARED, ROUND, noise_mm=0.2, seed=4)
    angles = np.radians(np.linspace(0, 60, 6001))

    def squares(p):
        centre, crown, t, join, r, right = p
        outline = np.concatenate(
            [drawn((t, join, r), angles) * [-1, 1], drawn((right, np.pi / 2, right), angles)]
        )
        away = np.hypot(x[:, None] - centre - outline[:, 0], z[:, None] - crown - outline[:, 1])
        return np.sum(away.min(axis=1) ** 2)

    profile = fit_profile(x, z)

    found = [profile.centre_mm, profile.crown_mm, *profile.left.shape, profile.right.crown_radius_mm]
    searched = minimize(squares, found, method="Nelder-Mead", options={"maxfev": 60})
    assert np.sum(profile.distances_mm**2) == pytest.approx(squares(found), rel=1e-3)
    assert searched.fun == pytest.approx(squares(found), rel=1e-3)


@FEW
@given(st.floats(-100, 100), st.floats(-100, 100), st.integers(0, 99))
def test_moving_the_gauge_changes_nothing_but_the_place(across_mm, up_mm, seed):
    x, z = gauge(SQUARED, ROUND, noise_mm=0.05, seed=seed, number=12)

    here, there = fit_profile(x, z), fit_profile(x + across_mm, z + up_mm)

    assert numbers_of(there) == pytest.approx(numbers_of(here), rel=1e-5, nan_ok=True)
    assert there.centre_mm - here.centre_mm == pytest.approx(across_mm, abs=1e-4)
    assert there.crown_mm - here.crown_mm == pytest.approx(up_mm, abs=1e-4)


@FEW
@given(st.integers(0, 99))
def test_turning_the_gauge_round_swaps_the_sides(seed):
    x, z = gauge(SQUARED, ROUND, noise_mm=0.05, seed=seed, number=12)

    profile, mirrored = fit_profile(x, z), fit_profile(-x, z)

    swapped = numbers_of(mirrored)[[0, 1, 6, 7, 8, 9, 2, 3, 4, 5]]
    assert swapped == pytest.approx(numbers_of(profile), rel=1e-5, nan_ok=True)


@FEW
@given(st.floats(0.4, 2.5), st.integers(0, 99))
def test_a_tire_twice_as_large_has_twice_the_radii(scale, seed):
    x, z = gauge(SQUARED, ROUND, noise_mm=0.05, seed=seed, number=12)

    profile, scaled = fit_profile(x, z), fit_profile(scale * x, scale * z, gauge_sd_mm=0.1 * scale)

    lengths = np.array([scale, scale, scale, scale, 1, 1, scale, scale, 1, 1])
    assert numbers_of(scaled) == pytest.approx(lengths * numbers_of(profile), rel=1e-5, nan_ok=True)


def test_missing_points_are_passed_over():
    x, z = gauge(ROUND, ROUND, number=10)
    holes_z = np.where(np.arange(len(z)) % 5 == 0, np.nan, z)

    profile = fit_profile(x, holes_z)

    assert profile.crown_radius_mm == pytest.approx(95.0, abs=1e-4)
    assert np.isnan(profile.distances_mm).tolist() == np.isnan(holes_z).tolist()


def test_the_breadth_is_that_between_the_outermost_points():
    x, z = gauge(SQUARED, ROUND)

    profile = fit_profile(x, z)

    assert profile.breadth_mm == pytest.approx(np.ptp(x), abs=0.01)
    assert profile.right.reach_mm == pytest.approx(95 * np.sin(np.radians(50)), abs=0.01)


def test_a_profile_laid_over_itself_shows_nothing():
    profile = fit_profile(*gauge(SQUARED, POINTED, noise_mm=0.1))

    overlay = lay_over(profile, profile)

    assert overlay.difference_mm == pytest.approx(np.zeros(41))
    assert overlay.across_mm[[0, 20, -1]] == pytest.approx(
        [-profile.left.reach_mm, 0.0, profile.right.reach_mm]
    )
    assert overlay.crown == "no clear change"


def test_a_squared_tread_lies_flatter_and_fuller_over_a_round_one():
    # By hand, 40 mm from the crown: the round one falls by 95 - sqrt(95^2 - 40^2) = 8.831 mm; the second arc of the
    # squared one is centered (180 - 75) sin 11 = 20.035 mm across and (180 - 75) cos 11 - 180 = -76.929 mm up, so it
    # stands at -76.929 + sqrt(75^2 - 19.965^2) = -4.635 mm, 4.196 mm higher.
    before, after = (fit_profile(*gauge(shape, shape, edge_deg=50)) for shape in (ROUND, SQUARED))

    overlay = lay_over(before, after)

    at_forty = np.interp([-40.0, 40.0], overlay.across_mm, overlay.difference_mm)
    assert at_forty == pytest.approx([4.196, 4.196], abs=0.03)
    assert overlay.crown == "flatter"
    assert overlay.crown_radius_change_mm == pytest.approx(180 - 95, abs=0.1)
    assert overlay.mean_difference_mm > 0
    assert (
        overlay.left_edge_mm == pytest.approx(overlay.right_edge_mm, abs=1e-3) == overlay.difference_mm.max()
    )


@pytest.mark.parametrize(
    ("before", "after", "verdict"), [(ROUND, POINTED, "more pointed"), (POINTED, ROUND, "flatter")]
)
def test_the_crown_is_judged_by_its_radius(before, after, verdict):
    profiles = [fit_profile(*gauge(shape, shape, noise_mm=0.1, seed=1)) for shape in (before, after)]

    there, back = lay_over(*profiles), lay_over(*reversed(profiles))

    assert there.crown == verdict
    assert back.difference_mm == pytest.approx(-there.difference_mm)


def test_two_readings_of_one_tire_show_no_clear_change():
    first, second = (fit_profile(*gauge(ROUND, ROUND, noise_mm=0.15, seed=seed)) for seed in (1, 2))

    assert lay_over(first, second).crown == "no clear change"


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: fit_circle([0, 1], [0, 1]), "the points must be at least 3, not 2"),
        (lambda: fit_circle([0, 1, 2, 3], [0, 1, 2, 3]), "the points must not lie on a line"),
        (lambda: fit_circle([0, 1, 2], [0, 1]), r"two equally long rows, not of shape \(3,\) and \(2,\)"),
        (lambda: fit_circle([0, 1, np.inf], [0, 1, 2]), "x_mm must be finite, not inf"),
        (lambda: fit_profile([1] * 9, [np.nan] * 9), "the points must be at least 8, not 0"),
        (lambda: fit_profile(*gauge(ROUND, ROUND), gauge_sd_mm=0), "gauge_sd_mm must be above 0, not 0"),
        (
            lambda: fit_profile(*gauge(ROUND, ROUND), gauge_sd_mm=np.nan),
            "gauge_sd_mm must be a number, not nan",
        ),
        (lambda: fit_profile(np.arange(9), np.arange(9) ** 2), "these points curve the other way"),
        (
            lambda: fit_profile(*(row[19:] for row in gauge(ROUND, ROUND))),
            "3 points on either side of the crown",
        ),
        (lambda: touching(side(95), -1), "lean_deg must be at least 0, not -1"),
        (lambda: touching(side(95), 91), "lean_deg must be at most 90, not 91"),
        (lambda: touching(side(95), 20).extra_lean_deg(0), "cg_height_mm must be above 0, not 0"),
        (lambda: touching(side(95), 20).rolling_radius_mm(0), "radius_mm must be above 0, not 0"),
        (lambda: height_mm(side(95), -1), "across_mm must be at least 0, not -1"),
        (lambda: tread_shift_mm(0, 45), "crown_radius_mm must be above 0, not 0"),
        (
            lambda: rolling_radius_at_lean_mm(90, 95, 45),
            "radius_mm less crown_radius_mm must be above 0, not -5",
        ),
        (
            lambda: extra_lean_deg(95, 180, 45),
            "cg_height_mm less twice crown_radius_mm must be at least 0, not -10",
        ),
        (
            lambda: lay_over(*[fit_profile(*gauge(ROUND, ROUND))] * 2, steps=0),
            "steps must be at least 1, not 0",
        ),
    ],
)
def test_an_impossible_value_is_refused_with_name_limit_and_value(call, sentence):
    with pytest.raises(ValueError, match=sentence):
        call()
