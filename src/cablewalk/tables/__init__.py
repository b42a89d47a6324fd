"""Wiring tables: the report of ``cablewalk tables`` as sheets."""
