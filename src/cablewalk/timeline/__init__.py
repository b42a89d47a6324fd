"""What is down, since when, for how long, against which clock."""
