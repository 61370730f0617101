"""Parts that every panel is built from."""
