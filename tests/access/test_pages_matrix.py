"""Every page, read and sent, by everybody: ``pages.txt`` says what each of them gets."""

import re

from tests.access.forms import address_of, form_for
from tests.access.routes import page_routes
from tests.access.table import KEYS, Wrong, read

TABLE = read("pages.txt", unsigned=302)


def heading(page):
    """Return the title of a page and what it says is wrong."""
    return str(re.findall(r"<title>(.*?)</title>|<li><a href=\"#(.*?)</a>", page, re.DOTALL))


def test_every_page_has_a_row_and_every_row_a_page():
    asked = {row.address for row in TABLE}
    there = {route.address for route in page_routes()}

    assert not there - asked, "New pages: say who gets what in tests/access/pages.txt."
    assert not asked - there, "Gone pages: take these lines out of tests/access/pages.txt."


def test_everybody_gets_what_the_table_says_and_reads_no_row_that_is_not_theirs(scene):
    wrong = Wrong()
    for row in TABLE:
        address = address_of(scene, row)
        for who, expected in row.answers.items():
            if who in KEYS:
                continue
            form = form_for(scene, row.label)
            answer = scene.ask(who, row.method, address, form, is_form=True)
            if answer.status_code != expected:
                said = answer.get("Location") or heading(answer.words)
                wrong.note(f"{row.label}: {answer.status_code} instead of {expected}", who, said)
            if strays := scene.strays(who, answer.words):
                wrong.note(f"{row.label}: rows that are not theirs", who, str(strays))

    assert not wrong, str(wrong)


def test_a_page_answers_no_method_that_has_no_row(scene):
    known = {(row.method, row.address) for row in TABLE}
    rows = {row.address: row for row in TABLE}
    asked = {"GET", "POST", "PUT", "PATCH", "DELETE"}
    wrong = Wrong()
    for route in page_routes():
        for method in asked - {method for method, address in known if address == route.address}:
            for who in ("owner", "fitter", "director"):
                got = scene.ask(who, method, address_of(scene, rows[route.address]), is_form=True).status_code
                if got != 405 and not is_of_library(route.view):
                    wrong.note(f"{method} {route.address}", who, str(got))

    assert not wrong, str(wrong)


def is_of_library(view):
    """Return whether the accounts library answers: it takes PUT for POST, and sends who is signed in on by any method."""
    classes = getattr(view, "view_class", object).__mro__
    return any(one.__module__.startswith("allauth.") for one in classes)


def test_a_key_opens_no_page(scene):
    for who in KEYS:
        for row in TABLE:
            if row.method == "GET" and row.answers["nobody"] == 302:
                assert scene.ask(who, "GET", address_of(scene, row)).status_code == 302, row.label
