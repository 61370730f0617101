"""One bottle: its picture and its printed sheets."""
