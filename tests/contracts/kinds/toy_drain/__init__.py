"""A kind of machine that nobody builds."""
