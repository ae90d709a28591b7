"""Multi-disc screw press: rings renew the drained face, nothing blinds."""
