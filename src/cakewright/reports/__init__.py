"""Findings -> calculation lines, figures, drawings -> HTML, PDF, XLSX, DXF, JSON."""
