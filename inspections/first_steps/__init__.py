"""The first steps of a new yard: from an empty board to the first figure."""
