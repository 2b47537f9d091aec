"""The physics of pads and housings: pure Python, no Django, no database, no clock."""
