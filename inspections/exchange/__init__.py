"""The whole register in and out of spreadsheets: tried row by row, then taken whole or not."""
