"""The JAMS file, read and validated by the jams library, and its notes compared with the lesson by mir_eval."""

from __future__ import annotations

import io
import json
import warnings
from dataclasses import replace

import mir_eval
import numpy as np
import pytest

from livecheck.sharing.jams_file import jams_of
from tests.pages.example import demo_take

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import jams


@pytest.fixture(scope="module")
def read() -> jams.JAMS:
    text = jams_of(demo_take(), "take.ogg")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        got = jams.load(io.StringIO(text), validate=False)
        assert got.validate(strict=True)
    return got


def test_it_says_what_it_is_of(read: jams.JAMS) -> None:
    assert read.file_metadata.title == "take.ogg"
    assert read.file_metadata.duration == pytest.approx(59.39, abs=0.01)
    assert read.sandbox.lesson == "A slow waltz in five figures"


def test_figures_are_segments_and_mistakes_are_tags(read: jams.JAMS) -> None:
    (figures,) = read.search(namespace="segment_open")
    assert [one.value for one in figures.data] == [
        "rise (1)", "fall (1)", "grips (1)", "grips (2)", "line (1)", "home (1)",
    ]  # fmt: skip
    (tags,) = read.search(namespace="tag_open")
    assert len(tags.data) == 8
    assert any("slide arrived" in one.value for one in tags.data)


def test_most_notes_asked_were_heard(read: jams.JAMS) -> None:
    """mir_eval's transcription measure: onsets within 100 ms, pitches within 50 cents. Of 36 picks one is not heard,
    one is another string's."""
    asked, heard = (_notes(read, what) for what in ("asked", "heard"))
    _, recall, _, _ = mir_eval.transcription.precision_recall_f1_overlap(
        *asked, *heard, offset_ratio=None, onset_tolerance=0.1
    )
    assert recall > 0.9


def test_the_contour_of_a_string_goes_where_the_slide_goes(read: jams.JAMS) -> None:
    (contour,) = [one for one in read.search(namespace="pitch_contour") if one.sandbox.string == 5]
    first = [one for one in contour.data if one.value["index"] == 0]
    assert first[10].value["frequency"] == pytest.approx(293.7, rel=0.01)  # D4, equal temperament
    assert first[-10].value["frequency"] == pytest.approx(392.0, rel=0.01)  # G4


def test_no_pitch_is_told_of_what_was_lost_in_the_noise() -> None:
    take = demo_take()
    figures = tuple(
        replace(one, notes=tuple(replace(note, faded_s=note.start_s + 0.2) for note in one.notes))
        for one in take.figures
    )
    starts_s = np.sort([note.start_s for one in figures for note in one.notes])
    told = json.loads(jams_of(replace(take, figures=figures), "take.ogg"))
    contours = [one["data"] for one in told["annotations"] if one["namespace"] == "pitch_contour"]
    times_s = np.array([point["time"] for data in contours for point in data])
    assert len(times_s) > len(starts_s)
    assert (times_s - starts_s[np.searchsorted(starts_s, times_s + 1e-4) - 1]).max() <= 0.2 + 1e-4


def _notes(read: jams.JAMS, what: str) -> tuple[np.ndarray, np.ndarray]:
    """Intervals and frequencies."""
    found = [
        (one.time, one.time + one.duration, mir_eval.util.midi_to_hz(np.array([one.value]))[0])
        for annotation in read.search(namespace="note_midi")
        if annotation.sandbox.what == what
        for one in annotation.data
    ]
    table = np.array(sorted(found))
    return table[:, :2], table[:, 2]
