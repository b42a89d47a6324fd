"""Replay with its consequences: the fold of a plan over a configuration, watched."""
