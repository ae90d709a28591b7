"""The model both screw presses share: drainage zone, pressing zone, plate (theory: press)."""
