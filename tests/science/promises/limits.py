"""Refusals that many functions share, as rows state them."""


def above_zero(*names: str) -> tuple[tuple[str, float, str], ...]:
    """Return the refusals of quantities that are not there at 0."""
    return tuple((name, 0.0, "above 0, not 0") for name in names)


def at_least_zero(*names: str) -> tuple[tuple[str, float, str], ...]:
    """Return the refusals of spreads, times and counts under 0."""
    return tuple((name, -1.0, "at least 0, not -1") for name in names)


def not_too_cold(*names: str) -> tuple[tuple[str, float, str], ...]:
    """Return the refusals of temperatures under absolute zero."""
    return tuple((name, -280.0, "above -273.15, not -280") for name in names)


def barometer(*names: str) -> tuple[tuple[str, float, str], ...]:
    """Return the refusals of pressures around a tire in another unit: inHg and hPa."""
    return tuple(
        refusal
        for name in names
        for refusal in ((name, 29.92, "at least 30, not 29.92"), (name, 1013.0, "at most 110, not 1013"))
    )
