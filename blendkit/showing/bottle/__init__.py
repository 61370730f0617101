"""One bottle: its picture, its chart, its tables and its printed sheets."""
