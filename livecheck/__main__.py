"""`python -m livecheck`."""

from __future__ import annotations

import sys

from livecheck.cli.main import main

if __name__ == "__main__":
    sys.exit(main())
