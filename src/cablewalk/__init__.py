"""cablewalk: plan, prove and brief the re-cabling of hardware that must not go dark."""

__version__ = "0.1.0"
