"""The report as JSON, format 1.

Times are seconds from the start of the take (four decimals), milliseconds and cents have one decimal, MIDI numbers
three, tempos and confidence two; null where there is nothing to say. The text is strict JSON (RFC 8259): no NaN, no
infinity.
"""

from __future__ import annotations

import json
from collections.abc import Sequence

import msgspec

from livecheck.judging.verdict import CheckpointVerdict, ExtraVerdict, FigureVerdict, TakeVerdict

Document = dict[str, object]

FORMAT = 1
_SECONDS, _CENTS, _MIDI, _TEMPO, _BEATS, _SHARE = 4, 1, 3, 2, 4, 2


def document_of(verdict: TakeVerdict) -> Document:
    """The report on one take as plain values, keys in their order."""
    return {
        "format": FORMAT,
        "lesson": verdict.lesson,
        "take": verdict.take,
        "source": verdict.source,
        "tuning_cents": _rounded(verdict.tuning_cents, _CENTS),
        "tempo": _rounded(verdict.tempo, _TEMPO),
        "clean": verdict.clean,
        "figures": [figure_document(figure) for figure in verdict.figures],
    }


def error_of(take: str, error: str) -> Document:
    """What stands in place of the report on a take that cannot be used."""
    return {"take": take, "error": error}


def text_of(documents: Sequence[Document]) -> str:
    """One document as itself, several as a list in the order given; ends with a line break."""
    whole = documents[0] if len(documents) == 1 else list(documents)
    # json would indent it far more slowly, since it leaves its own C code for that.
    flat = json.dumps(whole, ensure_ascii=False, allow_nan=False).encode("utf-8", "surrogatepass")
    return msgspec.json.format(flat, indent=1).decode("utf-8", "surrogatepass") + "\n"


def figure_document(figure: FigureVerdict) -> Document:
    """A figure's part of the report."""
    return {
        "figure": figure.figure.name,
        "attempt": figure.attempt,
        "found": figure.found,
        "start_s": _rounded(figure.start_s, _SECONDS),
        "tempo": _rounded(figure.tempo, _TEMPO),
        "clean": figure.clean,
        "checkpoints": [_checkpoint(checkpoint) for checkpoint in figure.checkpoints],
        "extras": [_extra(extra) for extra in figure.extras],
        "broken_off": figure.broken_off,
    }


def _checkpoint(checkpoint: CheckpointVerdict) -> Document:
    return {
        "step": checkpoint.step,
        "string": checkpoint.string,
        "kind": checkpoint.kind,
        "move": checkpoint.move,
        "beat": _rounded(checkpoint.beat, _BEATS),
        "judged": checkpoint.judged,
        "expected_s": _rounded(checkpoint.expected_s, _SECONDS),
        "heard_s": _rounded(checkpoint.heard_s, _SECONDS),
        "timing_ms": _rounded(checkpoint.timing_ms, _CENTS),
        "expected_midi": _rounded(checkpoint.expected_midi, _MIDI),
        "heard_midi": _rounded(checkpoint.heard_midi, _MIDI),
        "cents": _rounded(checkpoint.cents, _CENTS),
        "faults": list(checkpoint.faults),
        "cause": checkpoint.cause,
        "confidence": _rounded(checkpoint.confidence, _SHARE),
    }


def _extra(extra: ExtraVerdict) -> Document:
    return {
        "fault": extra.fault,
        "at_s": _rounded(extra.at_s, _SECONDS),
        "string": extra.string,
        "midi": _rounded(extra.midi, _MIDI),
    }


def _rounded(value: float | None, digits: int) -> float | None:
    """Rounded; what rounds to nothing is 0.0, never -0.0."""
    return None if value is None else round(float(value), digits) + 0.0
