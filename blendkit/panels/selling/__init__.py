"""Panels of the notebook on selling."""
