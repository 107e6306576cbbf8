"""What was asked, heard and wrong as JAMS, the JSON annotated music specification (Humphrey et al., ISMIR 2014; the
schema of jams 0.3), for research tools.

In: a take as it was played. Out: JSON text. Annotations, each with its string or meaning in its sandbox:

    segment_open   the figures that were found, value: name and attempt
    note_midi      "heard": a string's notes, "asked": what the lesson wants there; value: the pitch when struck
    pitch_contour  "heard": a string's pitch against time, in Hz
    tag_open       the mistakes, value: in words
    tempo          of the take

Times are seconds from the start of the take. Pitches asked are as the lesson has them, without the take's own tuning.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence

import numpy as np

import livecheck
from livecheck.hearing.heard import HeardNote
from livecheck.lesson.expectation import expect
from livecheck.lesson.pitch import hz_of
from livecheck.reports.headline import headline
from livecheck.reports.mistake import Mistake, mistakes_of
from livecheck.reports.played import PlayedFigure, PlayedTake

Json = dict[str, object]

JAMS_VERSION = "0.3.4"
"""Of the schema that this is written by."""
CONTOUR_EVERY_S = 0.02
ATTACK_S, STRUCK_S = 0.03, 0.25
"""After a pick: when its pitch can be heard, and until when it is surely the one that was struck."""
LEAST_S = 0.01
"""A tag has a duration, so that what looks at a stretch finds it."""


def jams_of(take: PlayedTake, called: str) -> str:
    """The file. `called`: what the take is called in it."""
    duration_s = round(take.duration_s, 4)
    annotations = [
        _annotation("segment_open", duration_s, map(_segment, _found(take)), {"what": "figures"}),
        _annotation("tag_open", duration_s, _tags(take), {"what": "mistakes"}),
        *_notes(take, duration_s),
    ]
    if take.verdict.tempo is not None:
        one = _observation(0.0, duration_s, round(take.verdict.tempo, 2), 1.0)
        annotations.append(_annotation("tempo", duration_s, [one], {"what": "tempo"}))
    document: Json = {
        "annotations": annotations,
        "file_metadata": {
            "title": called,
            "artist": "",
            "release": take.verdict.lesson,
            "duration": duration_s,
            "identifiers": {},
            "jams_version": JAMS_VERSION,
        },
        "sandbox": {"lesson": take.verdict.lesson, "tuning_cents": round(take.verdict.tuning_cents, 1)},
    }
    return json.dumps(document, ensure_ascii=True, allow_nan=False, separators=(",", ":")) + "\n"


def _found(take: PlayedTake) -> list[PlayedFigure]:
    return [figure for figure in take.figures if figure.verdict.found]


def _segment(figure: PlayedFigure) -> Json:
    start_s, beat_s = figure.verdict.start_s or 0.0, 60.0 / (figure.verdict.tempo or 60.0)
    length_s = float(figure.verdict.figure.length) * beat_s
    return _observation(start_s, length_s, f"{figure.verdict.figure.name} ({figure.verdict.attempt})")


def _tags(take: PlayedTake) -> list[Json]:
    tags = [
        _observation(*_when(mistake), headline(mistake, figure.verdict.figure, take.lesson.copedent))
        for figure in _found(take)
        for mistake in mistakes_of(figure.verdict)
    ]
    return sorted(tags, key=lambda tag: float(str(tag["time"])))


def _when(mistake: Mistake) -> tuple[float, float]:
    """Start and duration: from the first moment asked or heard to the last."""
    times = [extra.at_s for extra in mistake.extras]
    for c in mistake.checkpoints:
        times += [c.expected_s] if c.heard_s is None else [c.expected_s, c.heard_s]
    return min(times), max(max(times) - min(times), LEAST_S)


def _notes(take: PlayedTake, duration_s: float) -> list[Json]:
    """Of each string what was asked, the notes heard and their curves."""
    heard: dict[int, list[HeardNote]] = {}
    asked: dict[int, list[Json]] = {}
    for figure in _found(take):
        for note in figure.notes:
            heard.setdefault(note.string or 0, []).append(note)
        start_s, beat_s = figure.verdict.start_s or 0.0, 60.0 / (figure.verdict.tempo or 60.0)
        for want in expect(figure.verdict.figure, take.lesson.copedent).notes:
            at_s = start_s + (want.start_beat - 1.0) * beat_s
            length_s = (want.end_beat - want.start_beat) * beat_s
            pitch = round(float(want.midi_at(np.array([want.start_beat]))[0]), 3)
            asked.setdefault(want.string, []).append(_observation(at_s, length_s, pitch))
    found = [
        _annotation("note_midi", duration_s, several, {"what": "asked", "string": string})
        for string, several in sorted(asked.items())
    ]
    for string, notes in sorted(heard.items()):
        told: Json = {"what": "heard", "string": string or None}
        lasting = [note for note in sorted(notes, key=lambda note: note.start_s) if note.end_s > note.start_s]
        found.append(_annotation("note_midi", duration_s, _played(lasting), told))
        found.append(_annotation("pitch_contour", duration_s, _contour(lasting), told))
    return found


def _played(notes: Sequence[HeardNote]) -> Iterable[Json]:
    for note in notes:
        midi = note.median_midi(note.start_s + ATTACK_S, min(note.start_s + STRUCK_S, note.end_s))
        midi = note.median_midi(note.start_s, note.end_s) if midi is None else midi
        if midi is not None:
            yield _observation(note.start_s, note.end_s - note.start_s, round(midi, 3))


def _contour(notes: Sequence[HeardNote]) -> Iterable[Json]:
    for index, note in enumerate(notes):
        known = np.isfinite(note.midis)
        if not known.any():
            continue
        times_s = np.arange(note.start_s, note.heard_until_s, CONTOUR_EVERY_S)
        for time_s, midi in zip(times_s, np.interp(times_s, note.times_s[known], note.midis[known]), strict=True):
            value = {"index": index, "frequency": round(hz_of(float(midi)), 3), "voiced": True}
            yield _observation(float(time_s), 0.0, value)


def _observation(time_s: float, duration_s: float, value: object, confidence: float | None = None) -> Json:
    return {
        "time": round(max(time_s, 0.0), 4),
        "duration": round(max(duration_s, 0.0), 4),
        "value": value,
        "confidence": confidence,
    }


def _annotation(namespace: str, duration_s: float, data: Iterable[Json], sandbox: Json) -> Json:
    return {
        "namespace": namespace,
        "data": list(data),
        "time": 0.0,
        "duration": duration_s,
        "annotation_metadata": {
            "annotation_tools": f"livecheck {livecheck.__version__}",
            "annotation_rules": "",
            "annotator": {},
            "corpus": "",
            "curator": {"name": "", "email": ""},
            "data_source": "program",
            "validation": "",
            "version": livecheck.__version__,
        },
        "sandbox": sandbox,
    }
