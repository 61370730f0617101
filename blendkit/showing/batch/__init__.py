"""A batch: charts, rows and tables."""
