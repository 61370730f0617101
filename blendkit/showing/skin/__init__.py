"""The skin check as charts and tables."""
