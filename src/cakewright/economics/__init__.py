"""Money, energy, carbon: the same rules as physics."""
