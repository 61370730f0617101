"""The first bottle: the editor of a blend, and what every panel with a blend shares."""
