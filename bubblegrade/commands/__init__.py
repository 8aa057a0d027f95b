"""The command line: one file a command; parse, call, print."""
