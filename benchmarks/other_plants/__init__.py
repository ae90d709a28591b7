"""Simulated press lines, written without sight of the rooms they judge. See README.md."""
