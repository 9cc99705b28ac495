"""The computation of the service: pure functions on arrays, with their sources in ``sources.md``."""
