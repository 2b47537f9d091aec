"""Drawings for screen and paper: one function per picture, drawn on any surface."""
