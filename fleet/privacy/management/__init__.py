"""Command line of this subject."""
