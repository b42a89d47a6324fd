"""Reading and writing documents: YAML text to models and back, with places and findings."""
