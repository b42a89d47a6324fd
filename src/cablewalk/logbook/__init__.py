"""The logbook: what was really done, in one SQLite file to which events are only added."""
