"""Power: volts and amps of each energised circuit."""
