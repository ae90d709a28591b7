"""Drawings by code: flow diagrams and plot plans from plain data, as SVG and DXF."""
