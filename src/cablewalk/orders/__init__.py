"""Reachable sets of what begins and ends, and how a service stands after each of them."""
