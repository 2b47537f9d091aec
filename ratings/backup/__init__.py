"""The whole of the records in one file, and back from it."""
