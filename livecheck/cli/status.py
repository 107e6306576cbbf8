"""Exit statuses."""

from __future__ import annotations

CLEAN = 0
"""Everything found and clean."""
FAULTY = 1
"""Faults, extras, or a figure that was not found."""
UNUSABLE = 2
"""The call, the lesson or a take cannot be used, or the output cannot be written."""
STOPPED = 130
"""Stopped by the user: 128 and the number of the interrupt signal, as shells count."""
