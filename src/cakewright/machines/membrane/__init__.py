"""Membrane press: plates filled, then squeezed by the membrane."""
