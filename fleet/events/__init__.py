"""Tracks, events, days, groups, slots, entries and the conditions of a day."""
