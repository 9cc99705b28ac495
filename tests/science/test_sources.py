import re
from pathlib import Path

import fleet.science

PACKAGE = Path(fleet.science.__file__).parent
KEY = r"\[([A-Z][A-Za-z]+\d+[a-z]?)\]"
LINE = re.compile(rf"^{KEY} (\S.{{20,}})$")


def lines():
    text = (PACKAGE / "sources.md").read_text(encoding="utf-8")
    return [line for line in text.splitlines() if line.startswith("[")]


def keys_explained():
    return [found[1] for found in map(LINE.match, lines()) if found]


def keys_used():
    return {
        key for module in PACKAGE.rglob("*.py") for key in re.findall(KEY, module.read_text(encoding="utf-8"))
    }


def test_every_source_is_one_line_with_a_key_and_a_full_reference():
    malformed = [line for line in lines() if not LINE.match(line)]

    assert malformed == []


def test_no_key_is_explained_twice():
    keys = keys_explained()

    assert sorted(keys) == sorted(set(keys))


def test_every_key_used_in_the_computation_is_explained():
    assert keys_used() - set(keys_explained()) == set()


def test_every_source_explained_is_used_in_the_computation():
    assert set(keys_explained()) - keys_used() == set()


def test_the_computation_does_name_sources():
    assert {"Buck1996", "CFR574", "ISO2533", "UNR75"} <= keys_used()
