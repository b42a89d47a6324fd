"""Rules: what is unsafe or unfinished in a plan that is possible, one small file a family."""
