"""Photos that belong to facts."""
