"""Finished pieces held against a maker's own limits: zones, pass, fail or look again, sides, batches, mould marks."""
