"""The pages of tire tests: one module per screen."""
