"""A file becomes linear light with a scale."""
