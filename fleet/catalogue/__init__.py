"""Tire lines, specs, published pressures and reference notes: what can be bought, whoever owns it."""
