"""Sheets of labels with a code that opens a unit or a lot at the right task."""
