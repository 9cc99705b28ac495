"""What was done to what somebody owns: the trail of changes and the facts with their authors, read as one list."""
