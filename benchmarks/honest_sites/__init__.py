"""Simulated sites from bench to acceptance test, written without sight of the rooms they judge."""
