"""Transmittance becomes a table of voids."""
