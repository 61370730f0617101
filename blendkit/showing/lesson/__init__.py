"""Charts and rows of the lessons."""
