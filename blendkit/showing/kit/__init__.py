"""Looks, templates and chart parts that every room shares."""
