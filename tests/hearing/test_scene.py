"""The scene of one attempt: what should sound where, and levels that are known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from livecheck.hearing.scene import MARGIN_S, Scene
from livecheck.hearing.sound.mixing import Clearness, clearness
from livecheck.hearing.sound.onset import Onset, onsets
from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.strokes.picks import asked_of, lay
from tests.hearing.played import DURATION_S, Part, Stroke, driven, recorded

PART = Part.of(
    "{ beat = 1, fret = 3, pick = [5, 6] }",
    "{ beat = 3, fret = 5, over = 0.5 }",
    '{ beat = 4, down = ["A"], over = 0.5 }',
    "{ beat = 5, fret = 8, pick = [4] }",
    length=5,
)


def test_the_step_is_the_last_one_that_has_come() -> None:
    scene = PART.scene(())
    numbers = {time_s: scene.step_at(time_s, 0.0).number for time_s in (0.2, 1.0, 2.9, 3.0, 4.5, 5.1, 9.0)}
    assert numbers == {0.2: 1, 1.0: 1, 2.9: 1, 3.0: 2, 4.5: 3, 5.1: 4, 9.0: 4}
    assert scene.step_at(2.9, 0.1).number == 2


def test_a_string_s_pitch_follows_bar_and_pedals_whether_or_not_it_sounds() -> None:
    # Strings 4, 5 and 6 are E4, B3 and G#3; pedal A raises string 5 by two semitones (common practice, no source).
    scene = PART.scene((), replace(PART.score, tuning_cents=10.0))
    assert scene.stance_midi(5, 1.5) == pytest.approx(62.1)
    assert scene.stance_midi(5, 3.5) == pytest.approx(64.1)
    assert scene.stance_midi(5, 4.5) == pytest.approx(66.1)
    assert scene.stance_midi(6, 4.5) == pytest.approx(61.1)
    assert scene.stance_midi(4, 1.5) == pytest.approx(67.1)


def test_a_string_that_began_elsewhere_is_expected_to_stay_as_far_off() -> None:
    scene = PART.scene(())
    one = PART.sounding(PART.strokes())[0]
    times = (2.0, 2.75, 3.5)
    assert [scene.expected(one, t) for t in times] == pytest.approx([62.0, 63.0, 64.0])
    one.midi += 1.0
    assert [scene.expected(one, t) for t in times] == pytest.approx([63.0, 64.0, 65.0])


def test_a_string_that_is_out_of_tune_is_expected_in_tune() -> None:
    one = PART.sounding(PART.strokes())[0]
    one.midi += 0.3
    assert PART.scene(()).expected(one, 2.0) == pytest.approx(62.0)


def test_the_others_are_those_that_sound_at_that_time() -> None:
    scene, sounding = PART.scene(()), PART.sounding(PART.strokes())
    fifth, sixth, fourth = sounding
    assert [one.string for one in sounding] == [5, 6, 4]
    assert scene.others_at(fifth, 2.0, sounding) == pytest.approx([59.0])
    assert scene.others_at(sixth, 4.5, sounding) == pytest.approx([66.0])
    assert scene.others_at(fourth, 5.5, sounding) == []


@pytest.mark.parametrize("level", [0.1, 0.02])
def test_a_level_is_the_power_of_the_partials(level: float) -> None:
    """A tone's partials have `level` times 0.75 to the power of their number; just after the pick none has decayed
    by more than 0.4 of itself a second for each number."""
    scene = PART.scene([Stroke(5, 1.0, 3.0, ((1.0, 62.0),), level)])
    time_s = 0.1
    partials = level * 0.75 ** np.arange(6) * np.exp(-0.4 * time_s * np.arange(1, 7))
    wanted_db = 10.0 * np.log10(np.mean(partials**2))
    assert scene.level_db(1.0 + time_s, 62.0, ()) == pytest.approx(wanted_db, abs=1.5)


def test_an_octave_hides_a_string_s_level() -> None:
    scene = PART.scene(())
    assert scene.level_db(2.0, 71.0, (59.0,)) is None
    assert scene.level_db(2.0, 59.0, (71.0,)) is not None


def test_a_pitch_is_heard_at_some_times_as_at_each() -> None:
    scene = PART.scene(PART.strokes().values())
    times_s = [0.5, 1.2, 2.0, 2.6, 6.5]
    for midi, others in ((62.0, (59.0,)), (62.0, ()), (64.0, (62.0, 59.0))):
        wanted = [(scene.level_db(time_s, midi, others), scene.is_there(time_s, midi, others)) for time_s in times_s]
        assert scene.heard_db(times_s, midi, others) == wanted
    assert scene.heard_db(times_s, 71.0, (59.0,)) == []


def test_what_sounds_is_there_and_nothing_else() -> None:
    scene = PART.scene(PART.strokes().values())
    assert scene.is_there(2.0, 62.0, (59.0,))
    assert scene.is_there(2.0, 59.0, (62.0,))
    for midi in (60.5, 64.0, 66.0):
        assert not scene.is_there(2.0, midi, (62.0, 59.0))
    assert not scene.is_there(0.5, 62.0, ())


def test_of_what_lies_too_near_to_another_string_nothing_is_there() -> None:
    """A partial or two that the other leaves free may be anything."""
    scene = PART.scene(PART.strokes().values())
    assert scene.is_there(2.0, 62.0, (62.4, 59.0))
    assert not scene.is_there(2.0, 62.0, (62.2, 59.0))


def test_a_scene_has_its_figure_s_onsets_and_a_margin() -> None:
    far = Stroke(1, 7.5, 7.9, ((7.5, 66.0),))
    scene = PART.scene([*PART.strokes().values(), far])
    times_s = [moment.onset.time_s for moment in scene.moments if moment.onset.rise > 0.2]
    clear = [time_s for time_s in times_s if time_s > 0.1]  # at 0 the recording's own hiss begins
    assert clear == pytest.approx([1.0, 5.0], abs=0.005)
    assert scene.spectra.times_s[-1] == pytest.approx(min(6.0 + MARGIN_S, DURATION_S), abs=scene.spectra.hop_s)


def test_the_noise_before_a_pick_is_not_as_loud_as_the_pick() -> None:
    """A spectrum right after the first onset hears the second, which comes 45 ms later, as well."""
    recording = recorded([Stroke(5, 1.0, 3.0, ((1.0, 62.0),))])
    begun = [Onset(0.955, 0.2), Onset(1.0, 0.5)]
    assert [m.onset.time_s for m in Scene(recording, begun, PART.copedent, PART.score).moments] == [1.0]
    both = recorded([Stroke(6, 0.955, 1.0, ((0.955, 59.0),)), Stroke(5, 1.0, 3.0, ((1.0, 62.0),))])
    assert [m.onset.time_s for m in Scene(both, begun, PART.copedent, PART.score).moments] == [0.955, 1.0]


@pytest.mark.parametrize("after_s", [0.06, 0.08, 0.1])
def test_a_low_string_is_not_heard_before_it_was_struck(after_s: float) -> None:
    """A window of twice the length reaches from the string before it into its sound."""
    low_s = 1.0 + after_s
    scene = PART.scene([Stroke(8, 1.0, 3.0, ((1.0, 47.0),)), Stroke(10, low_s, 3.0, ((low_s, 38.0),))])
    first, second = (min(scene.moments, key=lambda m: abs(m.onset.time_s - time_s)) for time_s in (1.0, low_s))
    assert first.struck(first.evidence(38.0, (47.0,))) < 0.2
    assert second.struck(second.evidence(38.0, (47.0,))) > 0.6


@pytest.mark.parametrize(("drive", "mixed"), [(0.1, False), (10.0, True)])
def test_strings_that_ring_beside_what_is_struck_tell_whether_the_sound_is_driven(drive: float, mixed: bool) -> None:
    """No two are struck together."""
    part = Part.of(
        "{ beat = 1, fret = 3, pick = [5] }",
        "{ beat = 2, pick = [6], ring = true }",
        "{ beat = 3, pick = [4], ring = [6] }",
        "{ beat = 4, pick = [8], ring = [6] }",
    )
    recording = driven(part.strokes().values(), drive)
    scene = Scene(recording, onsets(recording), part.copedent, part.score)
    take = Clearness()
    together = scene.together(lay(asked_of(part.score), scene.moments))
    take.learn(0.0, clearness([(moment.peaks, midis) for moment, midis in together]))
    assert take.is_mixed is mixed


@pytest.mark.parametrize(("close", "is_heard"), [((), False), ((61.0,), True)])
def test_the_longer_window_is_for_strings_that_are_low_or_lie_close_to_another(
    close: tuple[float, ...], is_heard: bool
) -> None:
    """Three that lie far below it leave it nothing in the usual window: what the longer one shows between the partials
    of so many may be a band's or a room's."""
    others = (45.0, 47.0, 50.0, *close)
    scene = PART.scene(Stroke(0, 1.0, 4.0, ((1.0, midi),)) for midi in (60.0, *others))
    assert not scene.is_there(2.0, 60.0, others)
    assert scene.sounds(2.0, np.array([60.0]), others, -100.0, 0.0) is is_heard


@pytest.mark.parametrize(("hiss_db", "heard"), [(-27.0, 1), (-120.0, 5)])
def test_what_wavers_in_a_pause_is_the_noise_of_it_and_no_background(hiss_db: float, heard: int) -> None:
    """Soft touches in a silence are heard, and are others' if they are many; of as loud a hiss they are nothing."""
    one = Part.of("{ beat = 3, fret = 3, pick = [5] }")
    touches = [Onset(time_s, 0.15) for time_s in (1.2, 1.5, 1.8, 2.1)]
    plain = recorded([
        Stroke(5, 3.0, 6.0, ((3.0, 62.0),)),
        *(Stroke(5, onset.time_s, onset.time_s + 0.2, ((onset.time_s, 62.0),), 0.0012) for onset in touches),
    ])  # fmt: skip
    hiss = np.random.default_rng(1).normal(size=len(plain)) * 0.1 * 10.0 ** (hiss_db / 20.0)
    heard_there = Recording()
    heard_there.append(np.asarray(plain.slice(0, len(plain)) + hiss, dtype=np.float32))
    scene = Scene(heard_there, [*touches, Onset(3.0, 0.6)], one.copedent, one.score)
    assert len(scene.moments) + len(scene.background) == heard
    assert scene.has_background is (heard > 1)
