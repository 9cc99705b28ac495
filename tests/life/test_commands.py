"""The main job from the command line: tires near their end."""

import json
from io import StringIO

from django.core.management import call_command


def run(*args):
    out = StringIO()
    call_command(*args, stdout=out)
    return out.getvalue()


def test_life_lists_only_tires_near_their_end(fitted, ride, measure):
    ride(km=200.0)
    measure(fitted["rear"], 1.25)

    rows = json.loads(run("life", "--json"))

    assert [(row["tire"], row["state"]) for row in rows] == [(fitted["rear"].tire.label_code, "last day")]
    assert rows[0]["remaining_days_p10"] <= rows[0]["remaining_days_p50"] <= rows[0]["remaining_days_p90"]


def test_life_of_all_tires_prints_a_table(fitted, rider):
    text = run("life", "--all")

    assert "fresh" in text
    assert rider.name in text


def test_life_of_one_rider(fitted, other_rider):
    assert json.loads(run("life", "--all", "--rider", other_rider.code, "--json")) == []
