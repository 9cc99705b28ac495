"""What happens on track and is written down: stints, readings, adjustments, feel and surface notes."""
