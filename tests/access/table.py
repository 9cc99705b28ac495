"""The tables of answers: who gets which status where, a line a route; ``*.txt`` beside this file."""

from pathlib import Path
from typing import NamedTuple

# The people of Tarn (a vendor), of Longfield (an organiser), and around Robin, who owns the rows.
HERE = ("owner", "mate", "fitter", "stock", "vtester", "crew", "director", "inspector", "tester")
# The same at Breckside and Fennock, and somebody with an account and nothing else.
ELSEWHERE = tuple(f"b-{who}" for who in HERE if who != "mate")
PEOPLE = ("stranger", *HERE, *ELSEWHERE)
KEYS = {"stock-key": "stock", "director-key": "director", "owner-read-key": "owner"}
"""Programs, and whose answers they get; the one with the scope to read writes nothing."""

GROUPS = {
    "everybody": ("nobody", *PEOPLE),
    "signed-in": PEOPLE,
    "riders": ("owner", "mate", "b-owner"),
    "trailer": ("fitter", "stock", "b-fitter", "b-stock"),
    "desk": tuple(
        f"{side}{who}"
        for side in ("", "b-")
        for who in ("vtester", "crew", "director", "inspector", "tester")
    ),
}
GROUPS["testers"] = ("vtester", "tester", "b-vtester", "b-tester")
GROUPS["testers-elsewhere"] = ("vtester", "b-vtester", "b-tester")
GROUPS["desk-elsewhere"] = (*(who for who in GROUPS["desk"] if who.startswith("b-")), "vtester")


class Row(NamedTuple):
    """One line: a method and an address, which body is sent where there are several, and the answers."""

    method: str
    address: str
    variant: str
    answers: dict[str, int]

    @property
    def label(self) -> str:
        """Return how the body of this row is called."""
        return f"{self.method} {self.address}" + (f" ({self.variant})" if self.variant else "")


class Wrong:
    """What does not stand as the table says: a line for each kind, with everybody it concerns."""

    def __init__(self) -> None:
        self._found: dict[str, dict[str, str]] = {}

    def note(self, what: str, who: str, said: str = "") -> None:
        """Note that somebody got something else."""
        self._found.setdefault(what, {})[who] = said

    def __str__(self) -> str:
        lines = [
            f"{what}: {', '.join(said)}  {next(iter(said.values()))}" for what, said in self._found.items()
        ]
        return "\n" + "\n".join(lines)

    def __bool__(self) -> bool:
        return bool(self._found)


def read(name: str, *, unsigned: int) -> list[Row]:
    """Return the rows of a table; where nobody is not named, nobody gets ``unsigned``."""
    lines = Path(__file__).with_name(name).read_text(encoding="utf-8").splitlines()
    return [_row(line, unsigned) for line in lines if line.strip() and not line.startswith("#")]


def _row(line: str, unsigned: int) -> Row:
    method, address, rest = line.split(maxsplit=2)
    variant = ""
    if rest.startswith("("):
        variant, rest = rest[1:].split(")", 1)
    answers = _answers(rest)
    left = answers.pop("rest", None)
    answers.setdefault("nobody", unsigned)
    for who in PEOPLE:
        if answers.setdefault(who, left or 0) == 0:
            raise ValueError(f"{line}: what does {who} get?")
    for key, person in KEYS.items():
        is_refused = key == "owner-read-key" and method != "GET"
        answers.setdefault(key, 403 if is_refused else answers[person])
    if unknown := set(answers) - {"nobody", *PEOPLE, *KEYS}:
        raise ValueError(f"{line}: nobody is called {', '.join(sorted(unknown))}.")
    return Row(method, "" if address == "/" else address, variant, answers)


def _answers(written: str) -> dict[str, int]:
    """Return the statuses by who gets them: ``200 owner riders; 404 rest``."""
    found: dict[str, int] = {}
    for part in written.split(";"):
        status, *named = part.split()
        for who in named:
            found.update(dict.fromkeys(GROUPS.get(who, (who,)), int(status)))
    return found
