"""How a blend wears off: molecules leaving a thin film, hour by hour."""
