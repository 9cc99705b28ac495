"""Commands of this subject."""
