"""A person's corrections of what grading found, and the numbers that follow from them."""
