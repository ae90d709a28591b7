"""One interface and one module per kind of machine; frames; suitability rules; sizing."""

from cakewright.machines.interface import (
    Answer,
    Capacity,
    Duty,
    Frame,
    Kind,
    MachineType,
    Performance,
    Verdict,
    worst_answer,
)

__all__ = [
    "Answer",
    "Capacity",
    "Duty",
    "Frame",
    "Kind",
    "MachineType",
    "Performance",
    "Verdict",
    "worst_answer",
]
