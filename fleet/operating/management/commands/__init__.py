"""Commands of those who run the service: ``jobs`` and ``doctor``."""
