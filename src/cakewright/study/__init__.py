"""The study file: fields, defaults with basis, all faults at once, versions."""
