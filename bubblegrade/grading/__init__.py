"""Numbers and a judgement from a table of voids."""
