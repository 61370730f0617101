"""Oils and carriers, their constituents, and the maker's shelf."""
