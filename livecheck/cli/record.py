"""A figure's verdict as it is kept: what listening and practice write into the database alike."""

from __future__ import annotations

import json
from datetime import datetime, timedelta

from livecheck.judging.verdict import FigureVerdict
from livecheck.keeping.attempt import Attempt
from livecheck.reports.document import figure_document


def attempt_of(figure: FigureVerdict, began: datetime, gaps: int, *, provisional: bool) -> Attempt:
    """An attempt in a take that began at some time; `gaps`: how often sound was lost during it."""
    start_s = figure.start_s or 0.0
    return Attempt(
        figure=figure.figure.name,
        number=figure.attempt,
        began=began + timedelta(seconds=start_s),
        start_s=start_s,
        clean=figure.clean,
        provisional=provisional,
        gaps=gaps,
        verdict=json.dumps(figure_document(figure), ensure_ascii=False),
    )
