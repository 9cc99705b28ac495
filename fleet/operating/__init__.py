"""The service at work: its jobs, its health, and what is wrong with an installation."""
