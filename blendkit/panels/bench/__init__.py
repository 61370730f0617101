"""The bench: mixing, versions, ageing and the journal."""
