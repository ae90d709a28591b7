"""Sheets of the workbook, one module each."""
