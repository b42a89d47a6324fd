"""Foresight: what happens if work stops, at every moment of a replay."""
