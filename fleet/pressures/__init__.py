"""Start pressures for a day: guidance as computed, bulletins as issued."""
