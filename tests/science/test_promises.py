"""Every public function of the computation keeps the same promises, whoever wrote it and whenever.

Scalars and arrays go through one expression and broadcast; NaN passes through; results are float64; an impossible
parameter is refused with its name, the limit and the value. The functions are found by walking the package, and called
as their rows under ``promises/`` say: one file per subject, with ROWS, EXEMPT (public, but no samples to ask about) and
INNER (serving another function). A function with neither a row nor such a reason fails here.
"""

import importlib
import inspect
import itertools
import re
from pathlib import Path

import numpy as np
import pytest

from tests.science.promises.row import named, public_functions

FILES = sorted((Path(__file__).parent / "promises").glob("*.py"))
TABLES = [
    table
    for table in (importlib.import_module(f"tests.science.promises.{path.stem}") for path in FILES)
    if hasattr(table, "ROWS")
]
ROWS = [row for table in TABLES for row in table.ROWS]
EXEMPT = {place: reason for table in TABLES for place, reason in table.EXEMPT.items()}
INNER = {place: reason for table in TABLES for place, reason in getattr(table, "INNER", {}).items()}
REFUSALS = [(row, *refusal) for row in ROWS for refusal in row.refused]


def cases(found):
    """Return rows with one of their arguments each."""
    return [pytest.param(*case, id="-".join(map(str, case))) for case in found]


def is_inner(function):
    """Return whether a function, or its whole module, only serves another one that checks what goes in."""
    place = named(function)
    return place in INNER or place.rpartition(".")[0] in INNER


def is_exempt(function):
    return named(function) in EXEMPT or is_inner(function)


def same(values, expected):
    return values == pytest.approx(expected, rel=1e-9, abs=1e-12, nan_ok=True)


def test_every_public_function_has_a_row_or_a_reason_for_none():
    held = {row.function for row in ROWS}

    silent = [named(one) for one in public_functions() if one not in held and not is_exempt(one)]

    assert silent == []


def test_every_exemption_is_needed():
    places = {named(one) for one in public_functions()}

    assert {*EXEMPT, *INNER} - places - {place.rpartition(".")[0] for place in places} == set()
    assert [named(row.function) for row in ROWS if is_exempt(row.function)] == []


@pytest.mark.parametrize("row", ROWS, ids=str)
def test_every_number_a_function_takes_has_limits_or_is_free(row):
    rows = [one for one in ROWS if one.function is row.function]
    limited = {name for one in rows for name, _, _ in one.refused}
    free = {name for one in rows for name in one.free}

    if row.through is None:
        assert set(inspect.signature(row.function).parameters) == {*row.samples, *row.given}
    assert row.numbers - limited - free == set()
    assert limited & free == set()
    assert bool(row.samples) != bool(row.whole)


@pytest.mark.parametrize("row", [row for row in ROWS if row.samples], ids=str)
def test_mixed_shapes_broadcast_to_what_scalars_give(row):
    axes = {name: place % 2 for place, name in enumerate(row.samples)}
    shapes = {name: (2, 1) if axis else (1, 2) for name, axis in axes.items()}

    together = row.called(**{name: np.reshape(row.samples[name], shape) for name, shape in shapes.items()})

    grid = np.broadcast_shapes(*shapes.values())
    for place in itertools.product(*map(range, grid)):
        scalars = {name: values[place[1 - axes[name]]] for name, values in row.samples.items()}
        for part, value in row.floats(row.called(**scalars)).items():
            assert same(np.broadcast_to(together[part], grid + np.shape(value))[place], value), part


@pytest.mark.parametrize(
    ("row", "name"),
    cases(
        (
            (row, name)
            for row in ROWS
            for name in row.measured
            if name not in row.nan_means and not row.refuses_nan(name)
        ),
    ),
)
def test_nan_stays_where_it_was(row, name):
    first, second = (row.floats(row.called(**{name: value})) for value in row.samples[name])

    found = row.called(**{name: np.array([row.samples[name][0], np.nan])})

    lost = []
    for part, value in first.items():
        known, unknown = np.broadcast_to(found[part], (2, *np.shape(value)))
        assert same(known, value), part
        lost.append(np.isnan(unknown).all())
        assert lost[-1] or (same(unknown, value) and same(unknown, second[part])), f"{part} hides a NaN"
    assert any(lost)


@pytest.mark.parametrize(
    ("row", "name"),
    cases(
        ((row, name) for row in ROWS for name in row.nan_means if not row.refuses_nan(name)),
    ),
)
def test_where_nan_means_not_known_there_is_an_answer_all_the_same(row, name):
    found = row.called(**{name: np.array([row.samples[name][0], np.nan])})

    assert not any(np.isnan(value).any() for value in row.floats(found).values())


@pytest.mark.parametrize("row", ROWS, ids=str)
def test_results_are_64_bit_floats(row):
    allowed = (np.ndarray, np.float64, float) if row.whole else (np.ndarray, np.float64)

    for found in (row.called(), row.called(**{name: np.array(v) for name, v in row.samples.items()})):
        for part, value in row.floats(found).items():
            assert isinstance(value, allowed), part
            assert np.asarray(value).dtype == np.float64, part
        for part, kind in row.kinds.items():
            assert isinstance(found[part], kind) or found[part].dtype.type is kind, part


@pytest.mark.parametrize(
    ("row", "name", "value", "sentence"),
    cases(REFUSALS),
)
def test_an_impossible_parameter_is_refused_with_name_limit_and_value(row, name, value, sentence):
    with pytest.raises(ValueError, match=re.escape(sentence)) as refused:
        row.called(**{name: value})

    assert re.search(rf"\b{name}\b", str(refused.value))


@pytest.mark.parametrize(
    ("row", "name"),
    cases(
        ((row, name) for row in ROWS for name in row.measured if name not in {*row.free, *row.endless}),
    ),
)
def test_where_there_are_limits_infinity_is_refused_by_name(row, name):
    with pytest.raises(ValueError, match=rf"\b{name}\b"):
        row.called(**{name: np.inf})


@pytest.mark.parametrize(
    ("row", "name"),
    cases((row, name) for row in ROWS for name in row.free if name in row.samples),
)
def test_what_is_said_to_be_free_takes_any_finite_number(row, name):
    for value in (-1e6, 1e6):
        row.called(**{name: value})
