"""Charts, pages and fragments of what next."""
