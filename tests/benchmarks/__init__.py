"""Benchmarks: generated configurations and side-by-side figures. Not part of the test suite."""
