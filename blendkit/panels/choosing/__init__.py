"""Panels of the notebook on what next."""
