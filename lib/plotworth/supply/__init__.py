"""Supply floor: how the water gets to the roots."""
