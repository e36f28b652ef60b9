"""Seasonal yield, water and economics of growing vegetables with little water."""
