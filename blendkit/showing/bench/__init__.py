"""The bench as HTML."""
