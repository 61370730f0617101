"""The fade through the day as charts and lists."""
