"""Measurements and how good they are."""
