"""Sections of piles: the generic steel shapes every yard knows, and those a yard adds."""
