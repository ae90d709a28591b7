"""Figures as SVG text from plain arrays, one figure per module.

The small ones (`bands`, `glyphs`) are written by hand and cost nothing; the charts use
matplotlib, which is imported only when one is drawn.
"""
