"""Strings that seem to sound at two pitches at once: a grip played so far below that all it should have is there too.

An octave, a twelfth or two octaves below what is asked all its partials are those of what is played.
"""

from __future__ import annotations

from collections.abc import Sequence

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.scene import SLIP_SEMITONES, Scene, Sounding
from livecheck.hearing.sound.partials import is_shadow
from livecheck.hearing.strokes.instead import instead, without_onsets_of
from livecheck.hearing.strokes.picks import ACCEPT
from livecheck.hearing.unasked.offer import STRAY_CENTS


def at_one_pitch(
    scene: Scene, sounding: list[Sounding], others: list[HeardNote], used: set[int]
) -> tuple[list[Sounding], list[HeardNote]]:
    """The strings that were struck and the strays. Where a stray is, or may be, the very string that an asked pick was
    laid on, and the whole step is heard elsewhere, it was played there, and the stray is none; the places of its
    moments are added to `used`."""
    for step in sorted({one.asked.checkpoint.step for one in sounding}):
        sounding, others = _step_at_one_pitch(scene, step, sounding, others, used)
    return sounding, others


def _step_at_one_pitch(
    scene: Scene, step: int, sounding: list[Sounding], others: list[HeardNote], used: set[int]
) -> tuple[list[Sounding], list[HeardNote]]:
    here = [s for s in sounding if s.asked.checkpoint.step == step]
    rest = [s for s in sounding if s not in here]
    for stray, one in ((o, s) for o in others for s in here if _covers(o, s)):
        if stray.string != one.string and (stray.string is not None or len(here) == 1):
            continue
        places = without_onsets_of(scene, used, here)
        found = instead(scene, step, [s.asked for s in here], rest, places)
        own = [f for f in found if f.string == f.asked.note.string]
        if len(own) == len(here) and _is_one_of(stray, own) and all(_is_below(scene, f, here) for f in own):
            used |= places
            left = [other for other in others if other.start_s != stray.start_s or not _is_one_of(other, own)]
            return sorted([*rest, *own], key=lambda s: (s.onset.time_s, s.string)), left
    return sounding, others


def _covers(stray: HeardNote, one: Sounding) -> bool:
    """Whether a stray was struck with an asked string that hides behind it."""
    return one.onset.time_s == stray.start_s and is_shadow(float(stray.midis[0]), one.midi)


def _is_below(scene: Scene, found: Sounding, asked: Sequence[Sounding]) -> bool:
    """Whether those partials of a string are there that what is asked does not have; of what came without an onset
    that cannot be told."""
    moment = scene.moment_of(found.onset)
    return moment is not None and moment.evidence(found.midi, [s.midi for s in asked], STRAY_CENTS).presence >= ACCEPT


def _is_one_of(stray: HeardNote, found: Sequence[Sounding]) -> bool:
    """Whether a stray has the pitch of one of some strings."""
    return any(abs(float(stray.midis[0]) - f.midi) < SLIP_SEMITONES for f in found)
