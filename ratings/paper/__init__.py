"""How papers look and read: paragraphs, tables, numbered pages, and words of people and time."""
