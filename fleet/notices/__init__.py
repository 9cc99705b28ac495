"""Messages to people: what, to whom, about which fact, told once."""
