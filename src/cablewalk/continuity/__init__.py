"""What is joined to what, which services that makes, and what may be live."""
