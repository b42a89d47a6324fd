"""The book in a real browser: an optional group, skipped with a reason where there is none."""
