"""The ``--json`` models: one object a run, with a version, each field with its meaning.

A model's field names and meanings are a promise; taking one away, or changing what it says, is a
new ``version``.
"""
