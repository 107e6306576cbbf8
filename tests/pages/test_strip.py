"""How far a string's curve is drawn."""

from __future__ import annotations

import re

import numpy as np
import pytest

from livecheck.hearing.heard import HeardNote
from livecheck.pages.span import Span
from livecheck.pages.strip import Strip

SPAN = Span(1.0, 1.0, 4.0)


@pytest.mark.parametrize(("faded_s", "until_s"), [(None, 4.5), (3.0, 3.0)])
@pytest.mark.parametrize("step_s", [0.01, 2.0])
def test_a_curve_is_drawn_until_its_string_ends_or_is_lost_in_the_noise(
    faded_s: float | None, until_s: float, step_s: float
) -> None:
    times_s = np.arange(1.0, 4.5, step_s)
    note = HeardNote(5, 1.0, 4.5, times_s, np.where(times_s <= 3.0, 62.0, 61.0), faded_s=faded_s)
    drawn = str(Strip.around(5, 0.0, [62.0], []).heard([note], SPAN))
    *_, last = re.findall(r"[ML]([\d.]+) [\d.]+", drawn)
    assert float(last) == pytest.approx(SPAN.x(until_s), abs=1.0)
