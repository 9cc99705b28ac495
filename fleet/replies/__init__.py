"""Answers kept under the keys that clients gave their requests, so that a request sent twice has one effect."""
