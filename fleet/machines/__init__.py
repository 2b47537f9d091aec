"""Clamps and power packs: what the yard has, and which hammer each is on."""
