"""Money floor: what a system costs and brings in."""
