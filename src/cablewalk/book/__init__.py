"""The briefing book: one file a crew can be briefed from, and pages a worker can carry."""
