"""Riders, their bikes, wheel pairs and instruments, and whom they let look."""
