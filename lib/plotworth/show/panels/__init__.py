"""Panels: controls built from the book, and their wiring."""
