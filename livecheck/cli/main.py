"""`livecheck`: what the installed command calls.

Everything else is imported inside, so that an interrupt during the imports is told in one line like a later one.
"""

from __future__ import annotations

import sys


def main(arguments: list[str] | None = None) -> int:
    """Run a command line and give its exit status; no exception leaves it."""
    try:
        from livecheck.cli.call import call

        return call(sys.argv[1:] if arguments is None else arguments)
    except BaseException as error:
        import signal

        signal.signal(signal.SIGINT, signal.SIG_IGN)  # whoever presses twice wants it to end, not to hear more of it
        from livecheck.cli.interrupt import is_interrupt
        from livecheck.cli.output import say
        from livecheck.cli.status import STOPPED

        if not is_interrupt(error):
            raise
        say("stopped")
        return STOPPED
