"""What may have been struck that nobody asked for, and what it must show."""

from __future__ import annotations

from dataclasses import replace

import pytest

from livecheck.hearing.scene import Scene
from livecheck.hearing.sound.moment import Moment
from livecheck.hearing.unasked.offer import Offer, Proof, best, in_stances
from tests.hearing.played import Part, Stroke

PART = Part.of("{ beat = 1, fret = 3, pick = [5, 6] }", "{ beat = 5, fret = 8, pick = [4, 5] }")
AT_S, MIDI = 2.0, 67.0
"""When string 4 is struck, and at which pitch: it is E4 at fret 3."""


@pytest.fixture(scope="module")
def scene() -> Scene:
    stray = Stroke(4, AT_S, AT_S + 1.0, ((AT_S, MIDI),))
    return PART.scene([*PART.strokes().values(), stray])


def _moment(scene: Scene) -> Moment:
    return min(scene.moments, key=lambda moment: abs(moment.onset.time_s - AT_S))


def _offers(scene: Scene) -> list[Offer]:
    return in_stances(scene, [(scene.step(1).stance, 0.0, 0.0)], scene.strings - {5, 6})


def _present(scene: Scene) -> list[float]:
    return [scene.step(1).stance.midi(string, scene.copedent) for string in (5, 6)]


def test_the_string_that_was_struck_is_the_clearest_of_all(scene: Scene) -> None:
    stray = best(_moment(scene), _offers(scene), _present(scene), Proof.of(scene, beside=False, still=True))
    assert stray is not None
    assert stray.note.string == 4
    assert stray.note.start_s == pytest.approx(AT_S, abs=0.005)
    assert stray.note.midis[0] == pytest.approx(MIDI, abs=0.1)


def test_what_sounds_anyway_is_no_stray(scene: Scene) -> None:
    proof = Proof.of(scene, beside=False, still=True)
    assert best(_moment(scene), _offers(scene), [*_present(scene), MIDI], proof) is None


def test_two_strings_at_one_pitch_have_no_name(scene: Scene) -> None:
    offers = [*_offers(scene), Offer(0.0, MIDI + 0.1, 1)]
    stray = best(_moment(scene), offers, _present(scene), Proof.of(scene, beside=False, still=True))
    assert stray is not None
    assert stray.note.string is None


@pytest.mark.parametrize("asked", ["level_db", "share"])
def test_what_brings_too_little_was_not_struck(scene: Scene, asked: str) -> None:
    proof = Proof.of(scene, beside=False, still=True)
    more = replace(proof, level_db=proof.level_db + 60.0) if asked == "level_db" else replace(proof, share=1.01)
    assert best(_moment(scene), _offers(scene), _present(scene), more) is None


def test_a_low_string_between_louder_ones_is_not_taken_for_its_octave() -> None:
    """In the usual window they cover those of its partials that the octave has not."""
    beside = {10: 48.2, 8: 53.2, 6: 56.2}
    strokes = [Stroke(string, 1.0, 4.0, ((1.0, midi),), level=0.14) for string, midi in beside.items()]
    scene = PART.scene([*strokes, Stroke(9, AT_S, AT_S + 1.0, ((AT_S, 51.2),), level=0.05)])
    offers = [Offer(0.0, 51.2, 9), Offer(0.05, 63.2, 3)]
    found = best(_moment(scene), offers, list(beside.values()), Proof.of(scene, beside=False, still=True))
    assert found is not None
    assert found.note.string == 9
