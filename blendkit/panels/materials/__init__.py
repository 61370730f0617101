"""The shelf: search, sources, own lots, purchases and stock."""
