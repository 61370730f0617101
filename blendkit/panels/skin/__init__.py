"""The skin check and the nearest blend within the limits."""
