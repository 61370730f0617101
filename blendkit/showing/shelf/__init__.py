"""The shelf as charts and tables."""
