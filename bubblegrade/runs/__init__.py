"""Many photographs: gathered, graded one after the other, their results written."""
