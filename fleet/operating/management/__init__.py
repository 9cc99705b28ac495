"""Commands of the one-machine run."""
