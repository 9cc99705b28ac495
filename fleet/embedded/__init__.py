"""The one-machine run: web, worker and timetable under one command, with a queue made of files."""
