"""At the bench: what to do, in which order."""
