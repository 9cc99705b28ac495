"""Printed matter: what a sheet says is built once as plain words, and shown as HTML and as PDF."""
