"""Is a photograph fit to measure: one module a family of checks, each a small function of what is seen."""
