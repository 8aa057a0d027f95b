"""Castings of known truth, for tests and for trying things."""
