"""HTML: one module per screen, with its form."""
