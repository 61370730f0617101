"""Choosing the next blend: loudness, replacements, duels, blind tests, a map, tonight."""
