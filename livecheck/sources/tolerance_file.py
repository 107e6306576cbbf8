"""From the text of a tolerance file to `Tolerances`."""

from __future__ import annotations

import math
from typing import Annotated, Literal

from msgspec import Meta, Struct, structs

from livecheck.errors import Unusable
from livecheck.lesson.reading import read_document
from livecheck.lesson.tolerances import Tolerances


class ToleranceFile(Struct, forbid_unknown_fields=True, kw_only=True):
    """How much is allowed before something is a fault."""

    format: Annotated[Literal[1], Meta(description="Always 1.")]
    cents: Annotated[float, Meta(description="A settled pitch further off is flat or sharp.")]
    wrong_note_cents: Annotated[float, Meta(description="A pitch so far off, or further, is another note.")]
    pick_ms: Annotated[float, Meta(description="A pick further from its time is early or late.")]
    arrival_ms: Annotated[float, Meta(description="An arrival further from its time is early or late.")]
    gap_share: Annotated[
        float, Meta(description="No time tolerance is wider than this share of the gap to the nearest other step.")
    ]
    short_share: Annotated[
        float, Meta(description="A string silenced before this share of its written time is cut short.")
    ]
    rang_on_ms: Annotated[float, Meta(description="A silenced string that still sounds after this rang on.")]


def read_tolerances(text: str, where: str) -> Tolerances:
    """Tolerances from the text of their file; `where` names it in messages."""
    document = read_document(text, ToleranceFile, where)
    values = structs.asdict(document)
    del values["format"]
    for key, value in values.items():
        if not (math.isfinite(value) and value > 0.0):
            raise Unusable(f"{where}: {key} is {value:g}; wanted a finite number above zero")
        if key.endswith("_share") and value > 1.0:
            raise Unusable(f"{where}: {key} is {value:g}; wanted a share, at most 1")
    if document.wrong_note_cents <= document.cents:
        wrong, cents = document.wrong_note_cents, document.cents
        raise Unusable(f"{where}: wrong_note_cents is {wrong:g}; wanted more than cents, which is {cents:g}")
    return Tolerances(**values)
