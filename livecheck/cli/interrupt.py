"""Telling an interrupt from an error, where something has made one of the other."""

from __future__ import annotations


def is_interrupt(error: BaseException) -> bool:
    """Whether an exception is a Ctrl-C, or comes of one.

    Until Python 3.12 an interrupt while a class is made (during imports, say) is raised as a RuntimeError.
    """
    seen: list[BaseException] = []
    now: BaseException | None = error
    while now is not None and now not in seen:
        if isinstance(now, KeyboardInterrupt):
            return True
        seen.append(now)
        now = now.__cause__ or now.__context__
    return False
