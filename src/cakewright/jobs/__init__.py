"""One module per user job; calls the rooms below in order and returns findings."""
