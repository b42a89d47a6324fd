"""Steps into a timed order, knowing no configuration."""
