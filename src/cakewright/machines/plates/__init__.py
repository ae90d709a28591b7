"""What chamber and membrane press share: filling, squeeze, cycle."""
