"""What was made, from which version, and what was smelt: an SQLite file that loses nothing."""
