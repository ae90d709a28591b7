"""The only room that opens files or databases; one reader per format with its column map."""
