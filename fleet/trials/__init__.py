"""Tire tests: plan, measure, run, judge, report, and follow a set until it is removed."""
