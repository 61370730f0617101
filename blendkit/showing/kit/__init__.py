"""Looks, templates and words that every room shares."""
