"""The pull sheet: one page for the crew, void as soon as the unit's rating changes."""
