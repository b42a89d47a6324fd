"""Sheets of rows and columns, written as plain text, CSV and Markdown."""
