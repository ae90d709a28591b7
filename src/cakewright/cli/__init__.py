"""One module per command: parse, call one job, print."""
