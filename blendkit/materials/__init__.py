"""Oils and carriers, what they are made of, and what of them stands on the shelf."""
