"""Organisations, people, roles and the policy that says who may do what."""
