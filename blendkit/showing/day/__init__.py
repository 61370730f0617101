"""Charts of the day."""
