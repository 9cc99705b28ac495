import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import sparse

from fleet.science.pooling import absorption

RATIOS = st.floats(0.0, 1e3)


def levels(*, count=300, columns=6, masses=None):
    rng = np.random.default_rng(5)
    mass = rng.uniform(0.5, 40.0, count) if masses is None else rng.choice(masses, count)
    return sparse.csr_array(rng.normal(size=(count, columns)) * np.sqrt(mass)[:, None]), mass


def by_definition(links, mass, ratio):
    """Return links' diag(ratio / (1 + ratio mass)) links and its derivative, written out."""
    dense = links.toarray()
    value = dense.T @ ((ratio / (1 + ratio * mass))[:, None] * dense)
    return value, dense.T @ ((1 / (1 + ratio * mass) ** 2)[:, None] * dense)


@pytest.mark.parametrize("masses", [None, [0.0, 1.0, 2.5, 7.0]])
@given(ratio=RATIOS)
def test_both_exact_routes_are_the_definition(masses, ratio):
    links, mass = levels(masses=masses)
    route = absorption.exact(links, mass) if masses else absorption.Direct(links, mass)

    assert isinstance(route, absorption.Classed if masses else absorption.Direct)
    value, slope = by_definition(links, mass, ratio)
    assert route.at(ratio) == pytest.approx(value, rel=1e-12, abs=1e-9)
    assert route.slope(ratio) == pytest.approx(slope, rel=1e-12, abs=1e-9)


@given(centre=RATIOS)
def test_a_rough_route_is_exact_where_it_is_centred(centre):
    links, mass = levels()
    route = absorption.Direct(links, mass)

    near = absorption.centred(route, absorption.rough(route), centre)

    assert near.at(centre) == pytest.approx(route.at(centre), rel=1e-12, abs=1e-9)
    assert near.slope(centre) == pytest.approx(route.slope(centre), rel=1e-12, abs=1e-9)


@pytest.mark.parametrize("ratio", [0.01, 0.3, 5.0])
def test_every_route_gives_the_slope_of_what_it_gives(ratio):
    links, mass = levels()
    route = absorption.Direct(links, mass)
    near = absorption.rough(route)

    for each in (route, near, absorption.centred(route, near, 0.2)):
        step = 1e-5 * ratio
        risen = (each.at(ratio + step) - each.at(ratio - step)) / (2 * step)
        assert each.slope(ratio) == pytest.approx(risen, rel=1e-6, abs=1e-6 * np.abs(risen).max())


@pytest.mark.parametrize("centre", [0.0, 0.05, 2.0])
def test_beside_its_centre_it_errs_with_the_square_of_the_way(centre):
    links, mass = levels()
    route = absorption.Direct(links, mass)
    near = absorption.centred(route, absorption.rough(route), centre)
    ways = (0.001 + 0.1 * centre) * np.array([1.0, 0.5, 0.25])

    off = [np.abs(near.at(centre + way) - route.at(centre + way)).max() for way in ways]
    tilt = [np.abs(near.slope(centre + way) - route.slope(centre + way)).max() for way in ways]

    assert off[0] / off[1] == pytest.approx(4.0, abs=0.8)
    assert off[1] / off[2] == pytest.approx(4.0, abs=0.4)
    assert tilt[0] / tilt[1] == pytest.approx(2.0, abs=0.4)


def test_no_rough_route_is_offered_where_it_would_not_pay():
    wide = levels(columns=800)
    thin = sparse.csr_array(sparse.eye_array(300, 290)), levels()[1]

    assert absorption.rough(absorption.Direct(*wide)) is None
    assert absorption.rough(absorption.Direct(*thin)) is None
    assert absorption.rough(absorption.Direct(*levels())) is not None
