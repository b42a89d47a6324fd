"""Formulas: numbers in, numbers out, each with its source and its limits of validity."""
