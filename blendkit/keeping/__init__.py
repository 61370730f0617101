"""Belongings of a maker: the store, and everything in it as the domain knows it."""
