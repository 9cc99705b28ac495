"""What is wrong with a row, and what came of a folder."""

from dataclasses import dataclass, field


@dataclass(frozen=True, order=True)
class Fault:
    """One thing that is wrong: where it stands, and a sentence saying what is wrong and what would be right."""

    file: str
    line: int
    column: str
    sentence: str

    def __str__(self) -> str:
        place = ", ".join(
            part
            for part in (
                self.file,
                f"line {self.line}" if self.line else "",
                f"column {self.column}" if self.column else "",
            )
            if part
        )
        return f"{place}: {self.sentence}"


@dataclass
class Outcome:
    """What came of one file: how many rows were added, brought up to date, there already; or why none was."""

    file: str
    rows: int = 0
    added: int = 0
    ended: int = 0
    there_already: int = 0
    faults: list[Fault] = field(default_factory=list)
    waits_for: str = ""

    @property
    def is_done(self) -> bool:
        """Whether the file's rows are stored."""
        return not self.faults and not self.waits_for


@dataclass
class Report:
    """What came of a whole folder, file by file."""

    outcomes: list[Outcome] = field(default_factory=list)
    stray: list[Fault] = field(default_factory=list)

    @property
    def faults(self) -> list[Fault]:
        """Return everything that is wrong, in the order of the files."""
        return [*self.stray, *(fault for outcome in self.outcomes for fault in outcome.faults)]

    @property
    def is_done(self) -> bool:
        """Whether every file of the folder is stored."""
        return not self.stray and all(outcome.is_done for outcome in self.outcomes)
