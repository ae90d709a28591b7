"""Log rows -> checks, reconciliation, indicators, drift, diagnosis."""
