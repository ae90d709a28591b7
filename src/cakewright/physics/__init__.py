"""One phenomenon per module, one published model per function: numbers in, numbers out."""
