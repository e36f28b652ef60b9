"""Show floor: charts and panels; no number is computed here."""
