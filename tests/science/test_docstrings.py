"""Every public function of the computation says in its docstring what it takes, returns and refuses."""

import inspect
import re

import pytest

from tests.science.promises.row import named, public_functions
from tests.science.test_promises import ROWS, is_inner

UNIT = re.compile(
    r"_(kpa|psi|bar|inhg|c|f|mm|inch32|km|m|ft|min|s|deg|days|years|percent|fraction|kmh|rpm|g_per_l)$"
)
SECTION = re.compile(r"^(\w+)\n-+$", re.MULTILINE)
PLENTY = 3
"""Parameters from which a section names each of them."""

FUNCTIONS = sorted((one for one in public_functions() if not is_inner(one)), key=named)
REFUSING = {row.function for row in ROWS if row.refused and row.through is None}


def sections(function):
    """Return the text of a docstring by section; that before the first section is ""."""
    parts = SECTION.split(inspect.getdoc(function) or "")
    return {"": parts[0], **dict(zip(parts[1::2], parts[2::2], strict=True))}


def parameters(function):
    return [name for name in inspect.signature(function).parameters if not name.startswith("_")]


def described(section):
    """Return the names a Parameters section describes: those at the start of its lines, before any colon."""
    heads = [line.partition(" : ")[0] for line in section.splitlines() if line and not line.startswith(" ")]
    return {name.strip(" *") for head in heads for name in head.split(",")}


@pytest.mark.parametrize("function", FUNCTIONS, ids=named)
def test_the_first_line_says_what_will_be_done(function):
    first = sections(function)[""].partition("\n")[0]

    assert re.match(r"[A-Z][a-z]*[a-rt-z] .*\.$", first), first


@pytest.mark.parametrize("function", FUNCTIONS, ids=named)
def test_every_parameter_is_described(function):
    told = sections(function)
    taken = parameters(function)

    if len(taken) >= PLENTY or "Parameters" in told:
        assert described(told.get("Parameters", "")) == set(taken)
    elif len(taken) > 1:
        prose = set(re.findall(r"\w+", inspect.getdoc(function)))
        assert [name for name in taken if not UNIT.search(name) and name not in prose] == []


@pytest.mark.parametrize("function", FUNCTIONS, ids=named)
def test_what_is_refused_is_told(function):
    told = sections(function)

    assert "Raises" in told or function not in REFUSING
    if "Raises" in told:
        assert re.match(r"\n*\w+\n    \S", told["Raises"])
