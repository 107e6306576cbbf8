"""The one error that reaches a user.

Everything that a person can get wrong (a lesson, a take, a call) ends as an `Unusable`:
one sentence that says where, what was given, and what was wanted.
"""

from __future__ import annotations


class Unusable(Exception):
    """A lesson, take or call that cannot be used; the message is one line and complete."""


class NothingFound(Unusable):
    """A take that was judged, and no figure of the lesson was in it."""
