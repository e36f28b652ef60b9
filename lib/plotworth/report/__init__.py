"""Report floor: one room a form in which results are handed over."""
