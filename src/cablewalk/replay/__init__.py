"""Wiring, configuration, and the actions that change it."""
