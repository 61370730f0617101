"""What a maker keeps: the store, and everything in it as the domain knows it."""
