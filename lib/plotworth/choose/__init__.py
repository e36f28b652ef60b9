"""Choice floor: what follows for a decision."""
