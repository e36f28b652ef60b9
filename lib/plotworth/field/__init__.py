"""Field floor: what the trial says."""
