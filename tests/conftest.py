"""What holds for all tests."""

from __future__ import annotations

from hypothesis import settings

# Machines that are busy with other work are no failure, and a run that fails must fail again.
settings.register_profile("repeatable", deadline=None, derandomize=True)
settings.load_profile("repeatable")
