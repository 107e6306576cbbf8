"""The JSON report: its keys and their order, rounding, and that it is JSON by RFC 8259."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction

import msgspec
import pytest

from livecheck.judging.verdict import CheckpointVerdict, ExtraVerdict, FigureVerdict, TakeVerdict
from livecheck.lesson.figure import Figure
from livecheck.reports.document import document_of, error_of, text_of

LATE = CheckpointVerdict(
    step=3,
    string=5,
    kind="arrive",
    move="slide",
    beat=4.0,
    judged=True,
    expected_s=2.92,
    heard_s=3.16,
    timing_ms=240.0,
    expected_midi=71.0,
    heard_midi=70.95,
    cents=-3.0,
    faults=("late",),
)
MISSED = CheckpointVerdict(
    step=4,
    string=8,
    kind="pick",
    move=None,
    beat=5 + 1 / 3,
    judged=True,
    expected_s=4.123456,
    heard_s=None,
    timing_ms=None,
    expected_midi=64.0199,
    heard_midi=None,
    cents=None,
    faults=("missed",),
    cause="string 7 instead of 8",
    confidence=0.4211,
)
FOUND = FigureVerdict(
    figure=Figure("1", Fraction(8), ()),
    attempt=1,
    found=True,
    start_s=0.71,
    tempo=81.6,
    checkpoints=(LATE, MISSED),
    extras=(ExtraVerdict("extra-pick", 3.41, 5, 71.0, step=3), ExtraVerdict("extra-note", 5.0, None, 60.5)),
)
ABSENT = FigureVerdict(Figure("2", Fraction(4), ()), 1, False, None, None, (), ())
TAKE = TakeVerdict("Two evenings' work", "take.wav", "audio", -2.0, 81.6, (FOUND, ABSENT))


def test_a_report_has_these_keys_in_this_order() -> None:
    written = """
    {"format": 1, "lesson": "Two evenings' work", "take": "take.wav", "source": "audio", "tuning_cents": -2.0,
     "tempo": 81.6, "clean": false,
     "figures": [
      {"figure": "1", "attempt": 1, "found": true, "start_s": 0.71, "tempo": 81.6, "clean": false,
       "checkpoints": [
        {"step": 3, "string": 5, "kind": "arrive", "move": "slide", "beat": 4.0, "judged": true,
         "expected_s": 2.92, "heard_s": 3.16, "timing_ms": 240.0,
         "expected_midi": 71.0, "heard_midi": 70.95, "cents": -3.0, "faults": ["late"], "cause": null,
         "confidence": 1.0},
        {"step": 4, "string": 8, "kind": "pick", "move": null, "beat": 5.3333, "judged": true,
         "expected_s": 4.1235, "heard_s": null, "timing_ms": null,
         "expected_midi": 64.02, "heard_midi": null, "cents": null, "faults": ["missed"],
         "cause": "string 7 instead of 8", "confidence": 0.42}],
       "extras": [{"fault": "extra-pick", "at_s": 3.41, "string": 5, "midi": 71.0},
                  {"fault": "extra-note", "at_s": 5.0, "string": null, "midi": 60.5}],
       "broken_off": null},
      {"figure": "2", "attempt": 1, "found": false, "start_s": null, "tempo": null, "clean": false,
       "checkpoints": [], "extras": [], "broken_off": null}]}
    """
    # As pairs, so that the order of the keys counts.
    assert _pairs(text_of([document_of(TAKE)])) == _pairs(written)


def test_a_clean_take_is_clean() -> None:
    figure = replace(FOUND, checkpoints=(replace(LATE, faults=()),), extras=())
    document = document_of(replace(TAKE, figures=(figure,)))
    assert document["clean"] is True


def test_nothing_is_minus_nothing() -> None:
    checkpoint = replace(LATE, cents=-0.04, timing_ms=-0.0, heard_s=-1e-6)
    text = text_of(
        [document_of(replace(TAKE, tuning_cents=-0.01, figures=(replace(FOUND, checkpoints=(checkpoint,)),)))]
    )
    assert "-0.0" not in text


def test_several_takes_are_a_list_in_the_order_given_and_a_bad_one_is_its_error() -> None:
    documents = json.loads(text_of([error_of("b.wav", "b.wav: is empty"), document_of(TAKE), error_of("a.wav", "no")]))
    assert [document["take"] for document in documents] == ["b.wav", "take.wav", "a.wav"]
    assert documents[0] == {"take": "b.wav", "error": "b.wav: is empty"}


def test_the_text_is_strict_json() -> None:
    # msgspec's decoder accepts RFC 8259 only, json's would take NaN too.
    title = 'Étude "for" two\nhands \\ ♭'
    text = text_of([document_of(replace(TAKE, lesson=title))])
    assert msgspec.json.decode(text.encode("utf-8"))["lesson"] == title
    with pytest.raises(ValueError, match="not JSON compliant"):
        text_of([document_of(replace(TAKE, tempo=float("nan")))])


def _pairs(text: str) -> object:
    return json.loads(text, object_pairs_hook=list)
