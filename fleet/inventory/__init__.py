"""Lots and their ledger, physical tires, job tickets, fittings, removals, holds and recalls."""
