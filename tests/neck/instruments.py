"""Instruments to look for notes on."""

from __future__ import annotations

from livecheck.lesson.copedent import Copedent
from livecheck.sources.library import load_copedent

E9 = load_copedent("e9-ten-string")
JUST = load_copedent("e9-ten-string-just")
LAP = load_copedent("lap-steel-six-c6")
SMALL = Copedent(
    "Four strings, two pedals and two levers",
    (68.0, 64.0, 59.0, 56.0),
    {"A": {3: 2.0}, "B": {1: 1.0, 4: 1.0}, "LKL": {2: 1.0}, "LKR": {2: -1.0}},
)
TINY = Copedent("Three strings, a pedal and a lever", (68.0, 64.0, 59.0), {"A": {3: 2.0}, "LKL": {2: 1.0}})
