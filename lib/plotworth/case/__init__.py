"""Case floor: what was written down, opened and checked."""
