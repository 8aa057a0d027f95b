"""The log that remembers: what was cast and what came out, in one SQLite file."""
