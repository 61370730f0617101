"""Evaporation of a blend: molecules leaving a thin film, hour by hour."""
