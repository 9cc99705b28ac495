"""What a row of the table of promises says about one public function."""

import importlib
import inspect
import pkgutil
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field, fields, is_dataclass
from typing import Any

import numpy as np

import fleet.science


@dataclass(frozen=True)
class Row:
    """One public function: valid calls, what it must refuse, and where it departs from the promises for a reason.

    Attributes
    ----------
    function : the function
    samples : two valid values for every argument that may be an array; all combinations are valid. Values that are
        ``int`` or ``bool`` are codes and flags, which NaN and infinity are not asked of
    given : the other arguments
    refused : name, impossible value, and the end of the sentence that refuses it, with limit and value
    free : numeric arguments for which any finite number is possible
    nan_means : arguments for which NaN is an answer ("not known"), and what is taken then
    endless : arguments for which infinity is possible
    kinds : type of each part of the result that is not float64; the result itself is ""
    whole : why the function has no samples: one answer for all of its values; plain floats are allowed then
    through : calls the function where its arguments are made of the numbers here, such as those of a chassis
    """

    function: Callable[..., Any]
    samples: Mapping[str, tuple[Any, Any]] = field(default_factory=dict)
    given: Mapping[str, Any] = field(default_factory=dict)
    refused: tuple[tuple[str, Any, str], ...] = ()
    free: tuple[str, ...] = ()
    nan_means: Mapping[str, str] = field(default_factory=dict)
    endless: tuple[str, ...] = ()
    kinds: Mapping[str, type] = field(default_factory=dict)
    whole: str = ""
    through: Callable[..., Any] | None = None

    def __str__(self) -> str:
        return named(self.function)

    def called(self, **changes: Any) -> dict[str, Any]:
        """Call with the first value of every sample but for the changes, and return the parts of the result."""
        first = {name: values[0] for name, values in self.samples.items()}
        call = self.through or self.function
        return parts(call(**{**self.given, **first, **changes}), self.kinds)

    def floats(self, found: dict[str, Any]) -> dict[str, Any]:
        """Return the parts of a result that are measured, not words or counts."""
        return {name: value for name, value in found.items() if name not in self.kinds}

    def refuses_nan(self, name: str) -> bool:
        """Return whether NaN is refused for an argument, as it says nothing beside the others."""
        return any(name == one and is_nan(value) for one, value, _ in self.refused)

    @property
    def numbers(self) -> set[str]:
        """Return the arguments that are numbers, of which every one has limits or is free."""
        first = {name: value for name, (value, _) in self.samples.items()}
        return {name for name, value in {**self.given, **first}.items() if is_number(value)}

    @property
    def measured(self) -> list[str]:
        """Return the samples that are measured, not codes or flags."""
        return [name for name, (value, _) in self.samples.items() if isinstance(value, float)]


def is_number(value: Any) -> bool:
    """Return whether an argument is a number or an array of numbers."""
    return not isinstance(value, bool | np.bool_) and np.asarray(value).dtype.kind in "fiu"


def is_nan(value: Any) -> bool:
    """Return whether an argument is NaN itself, not an array with one."""
    return isinstance(value, float) and bool(np.isnan(value))


def named(function: Callable[..., Any]) -> str:
    """Return the function's place under ``fleet.science``."""
    return f"{function.__module__.removeprefix('fleet.science.')}.{function.__name__}"


def parts(result: Any, whole: Collection[str], path: str = "") -> dict[str, Any]:
    """Return the parts of a result by name, those of dataclasses and tuples in it too but of what is to stay whole."""
    if path in whole:
        return {path: result}
    if is_dataclass(result):
        inner = {one.name: getattr(result, one.name) for one in fields(result)}
    elif isinstance(result, tuple):
        inner = {str(place): value for place, value in enumerate(result)}
    else:
        return {path: result}
    prefix = f"{path}." if path else ""
    return {
        name: value
        for one, part in inner.items()
        for name, value in parts(part, whole, f"{prefix}{one}").items()
    }


def public_functions() -> list[Callable[..., Any]]:
    """Return every function without an underscore in the computation, from the module that defines it."""
    found = pkgutil.walk_packages(fleet.science.__path__, "fleet.science.")
    return [
        value
        for module in map(importlib.import_module, [one.name for one in found])
        for name, value in vars(module).items()
        if not name.startswith("_") and inspect.isfunction(inspect.unwrap(value))
        if value.__module__ == module.__name__
    ]
