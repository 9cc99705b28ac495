"""What a tire has behind it and before it: usage, learned models, assessments, flags."""
