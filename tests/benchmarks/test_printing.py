"""How long a sheet takes to set, in CPU seconds, and what it leaves in memory; by hand, see DEVELOPERS.md.

Floor: a page with one word in the same typeface, which is what the typesetter costs before it sets anything of ours.
"""

import itertools
import resource
import time

import pytest
import typst

from fleet.pages.printing.codes import drawn
from fleet.pages.printing.typesetting import TYPEFACE, pdf_of
from tests.benchmarks.seasons import least_s

GOAL_S, GOAL_MB_A_HUNDRED = 0.3, 20.0
WHEEL = {
    "axle": "Rear, set", "stop": "", "figure": "26.5 psi", "beside": "1.83 bar, tire at 22 °C",
    "lines": ["Hot target 31.9 psi, 2.20 bar.", "As a true gauge shows it."], "tire": "Mirrin Lowmoor TD",
    "told": "Label MRDP PMEP, date code 0826",
}  # fmt: skip
CELL = {"start": "26.5", "limit": "", "span": "25.0 to 28.1", "bar": "1.83 bar"}
ROW = {"tire": "Rear", "size": "190/55 ZR17", "hot": "31.9", "hot_bar": "2.20 bar", "cells": [CELL] * 4}
SHEETS = {
    "slip": {
        "title": "Slip 1", "number": "1", "rider": "Robin Vale", "is_long_name": False, "under": ["1000 sport, dry"],
        "wheels": [WHEEL, WHEEL], "weather": "For air 22 °C.", "cautions": ["Scrub in."] * 4, "paper": "a6",
    },
    "label": {
        "title": "Label", "paper": "sheet", "first": 1,
        "labels": [
            {"code": "MRDP PMEP", "spec": "Mirrin Lowmoor TD", "told": "Rear", "site": "tires.example.org/W/",
             "mark": "NLYL-QDUY-XVC6-ZDVV", "drawing": drawn("HTTPS://TIRES.EXAMPLE.ORG/W/NLYLQDUYXVC6ZDVV")}
        ] * 24,
    },
    "bulletin": {
        "title": "Bulletin 1", "heading": "Start pressures", "number": "Bulletin 1", "about": "Friday", "issued": "Now.",
        "set_how": "Set.", "notes": [], "columns": ["Tire", "Hot", "Fast", "Medium", "Slow", "Novice"],
        "parts": [{"name": "Mirrin Lowmoor TD", "rows": [ROW] * 5}] * 4, "cautions": ["Scrub in."] * 3, "paper": "a4",
    },
}  # fmt: skip


def one_word():
    typefaces = typst.Fonts(include_system_fonts=False, include_embedded_fonts=True, font_paths=[TYPEFACE])
    return typst.Compiler(
        b'#set text(font: "Atkinson Hyperlegible Next")\nTire', font_paths=typefaces
    ).compile(format="pdf")


def renumbered(words, number):
    """The same words with another number after each."""
    if isinstance(words, dict):
        kept = {"paper", "first", "drawing"}
        return {key: one if key in kept else renumbered(one, number) for key, one in words.items()}
    if isinstance(words, list):
        return [renumbered(one, number) for one in words]
    return f"{words} {number}" if isinstance(words, str) and words else words


@pytest.mark.benchmark(timer=time.process_time)
@pytest.mark.parametrize("sheet", SHEETS)
def test_set_a_sheet(benchmark, sheet):
    benchmark.extra_info["one_word_s"] = least_s(one_word)
    numbers = itertools.count()

    def another():
        # The typesetter remembers what it set before: each round says something else.
        number = str(next(numbers))
        return (sheet, renumbered(SHEETS[sheet], number)), {}

    pdf = benchmark.pedantic(pdf_of, setup=another, rounds=8)

    assert pdf.startswith(b"%PDF")
    assert benchmark.stats["min"] < GOAL_S


def test_a_hundred_slips_leave_little_behind():
    words = SHEETS["slip"]
    for number in range(20):
        pdf_of("slip", renumbered(words, str(number)))
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss

    for number in range(100):
        pdf_of("slip", renumbered(words, str(100 + number)))

    assert (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024 < GOAL_MB_A_HUNDRED
