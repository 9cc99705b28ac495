"""Carry what is to be supervised from the command that knows the settings to the process that only watches."""

import json
import signal
from dataclasses import asdict, dataclass
from pathlib import Path

from fleet.embedded.child import Program


@dataclass(frozen=True)
class Plan:
    """Which programs run in which folder, where they answer, and what is said once they do."""

    programs: tuple[Program, ...]
    folder: Path
    host: str
    port: int
    announcement: str

    def to_text(self) -> str:
        """Return the plan as one argument of a command line."""
        return json.dumps(asdict(self) | {"folder": str(self.folder)})

    @classmethod
    def from_text(cls, text: str) -> "Plan":
        """Return the plan that ``to_text`` wrote."""
        fields = json.loads(text)
        programs = tuple(
            Program(each["name"], tuple(each["command"]), signal.Signals(each["stop_signal"]))
            for each in fields.pop("programs")
        )
        return cls(programs=programs, folder=Path(fields.pop("folder")), **fields)
