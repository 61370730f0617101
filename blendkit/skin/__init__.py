"""A bottle on skin, relative to published limits."""
