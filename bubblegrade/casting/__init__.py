"""Where the casting is and what it lets through."""
