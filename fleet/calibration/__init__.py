"""Seasons with a truth richer than the models, to see whether the figures keep what their intervals promise."""
