"""Decanter centrifuge: settling, bed on the bowl, beach."""
