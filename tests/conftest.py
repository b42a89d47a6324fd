"""What every test shares: how hypothesis runs."""

from __future__ import annotations

import os

from hypothesis import settings

# No deadline: the machines that run this are shared, and a slow moment is no fault.
settings.register_profile("here", deadline=None)
settings.register_profile("ci", deadline=None, derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "here")
