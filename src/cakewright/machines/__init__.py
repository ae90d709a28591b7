"""One interface and one module per kind of machine; frames; suitability rules; sizing."""
