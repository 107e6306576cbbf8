"""What may have been struck that nobody asked for, and the clearest of it.

In: an onset's sound, pitches that some strings may have, and the pitches of what sounds anyway. Out: the stray that is
there most clearly, if any is. Pitches are MIDI numbers, levels in dB.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.scene import SLIP_SEMITONES, Scene
from livecheck.hearing.sound.moment import Evidence, Moment
from livecheck.hearing.sound.partials import SHADOW_SEMITONES, shadows
from livecheck.hearing.strokes.instead import LEAST_FREE, is_apart, newly
from livecheck.hearing.unasked.again import AGAIN_RISE
from livecheck.lesson.figure import Stance

STRAY_ACCEPT, STRAY_BESIDE_ACCEPT, STRAY_LOUD_ACCEPT = 0.5, 0.62, 0.36
"""How clearly a stray must be there: by itself, where asked strings are struck at the same moment, and where it is
loud."""
LOUD_GAIN_DB, LOUD_LEVEL_DB = 20.0, -12.0
OTHERS_PRESENCE = 0.25
SURE = 0.8
"""So much of a string is not there by chance, below one that is there less clearly."""
STRUCK_SHARE, BESIDE_OTHERS_SHARE = 0.5, 0.75
"""A string struck alone brings at least so much of what is new, nearly all where nothing glides; the second where
others play in between, whose chords bring a string of the stance among others."""
RINGS_ON_DB = 3.0
"""A string that grew no more than that rings on."""
STRAY_CENTS = 25.0
STRAY_LASTS_S = 0.15


class Offer(NamedTuple):
    """A string that may have been struck."""

    price: float
    """How much less clear than others it is taken to be."""
    midi: float
    string: int


@dataclass(frozen=True)
class Stray:
    clear: float
    """How clearly it is there, 0 to 1."""
    note: HeardNote
    share: float
    """Its share in all that is new, 0 to 1."""


@dataclass(frozen=True)
class Proof:
    """What a stray must show."""

    beside: bool
    """Whether asked strings are struck at the same moment."""
    still: bool
    """Whether anything that sounds stands still: what moves on may be where none is thought to be."""
    level_db: float
    """How loud at least is what it brings."""
    share: float
    """Its least share in what is new."""

    @classmethod
    def of(cls, scene: Scene, beside: bool, still: bool) -> Proof:
        share = BESIDE_OTHERS_SHARE if scene.has_background else STRUCK_SHARE
        return cls(beside, still, scene.softest_db, 0.0 if beside else share)

    def least(self, moment: Moment, evidence: Evidence) -> float:
        """How clearly a stray must be there: less so where an onset that nothing else explains brought it in loud."""
        if self.beside:
            return STRAY_BESIDE_ACCEPT
        loud = evidence.gain_db >= LOUD_GAIN_DB and evidence.level_db >= LOUD_LEVEL_DB
        return STRAY_LOUD_ACCEPT if moment.onset.rise >= AGAIN_RISE and loud and self.still else STRAY_ACCEPT

    def was_struck(self, moment: Moment, midi: float, present: Sequence[float]) -> bool:
        """Whether what seems to be a stray is loud enough for a stroke and not just some of what the onset brought, as
        of others' chords and a drum's noise."""
        level_db, share = moment.brought([midi], present)
        return level_db >= self.level_db and share >= self.share


def in_stances(scene: Scene, stances: Sequence[tuple[Stance, float, float]], strings: set[int]) -> list[Offer]:
    """Some strings in some stances, each with a price and how many semitones off it is."""
    return [
        Offer(price, stance.midi(string, scene.copedent) + scene.offset + off, string)
        for stance, price, off in stances
        for string in strings
    ]


def on_their_way(scene: Scene, times_s: NDArray[np.float64], strings: set[int]) -> list[Offer]:
    """Some strings where bar and pedals have them at some times, as they were followed and as the line has them."""
    followed, written = (scene.carried_midis(sorted(strings), times_s, as_written) for as_written in (False, True))
    return [
        Offer(0.0, midi, string)
        for string, here, there in zip(sorted(strings), followed, written, strict=True)
        for midi in (*here.tolist(), *there.tolist())
    ]


def best(moment: Moment, offers: Sequence[Offer], present: Sequence[float], proof: Proof) -> Stray | None:
    """The clearest stray among some offers; `present`: the pitches of what sounds anyway."""
    time_s = moment.onset.time_s
    offers = [offer for offer in offers if is_apart(offer.midi, present)]
    if moment.driven and all(_gain_db(moment, midi) <= RINGS_ON_DB for midi in present):
        # What mixes with nothing new is not new.
        moment = replace(moment, driven=False)
    low, high = ([offer for offer in offers if moment.is_low(offer.midi) == is_low] for is_low in (True, False))
    covering = _covering(moment, present)
    found = _clear(moment, low, present, proof) + _clear(moment, high, covering, proof)
    if len(covering) < len(present):
        # What a low string that rings on leaves may show a gain that all partials hide, if these are there as well.
        there = [offer for offer in high if moment.evidence(offer.midi, covering, STRAY_CENTS).presence > STRAY_ACCEPT]
        found += _clear(moment, there, present, proof)
    found = [one for one in found if not any(shadows(other[1], one[1]) for other in found)]
    if not found:
        return None
    presence, pitch, string, midi = max(found)
    same = {s for _, p, s, _ in found if abs(p - pitch) < SLIP_SEMITONES}
    named = string if len(same) == 1 else None
    note = HeardNote(named, time_s, time_s + STRAY_LASTS_S, np.array([time_s + 0.06]), np.array([midi]))
    return Stray(presence, note, moment.brought([midi], ())[1])


def _clear(
    moment: Moment, offers: Sequence[Offer], present: Sequence[float], proof: Proof
) -> list[tuple[float, float, int, float]]:
    """How clearly some offers are there, their pitches and strings, and their pitches as they sound; only those that
    were struck."""
    heard = newly(moment, [offer.midi for offer in offers], present, STRAY_CENTS)
    found = [
        (evidence.presence - price, pitch, string, evidence.midi)
        for (price, pitch, string), evidence in zip(offers, heard, strict=True)
        if evidence is not None
        and evidence.presence > proof.least(moment, evidence)
        and not _is_higher(moment, pitch, present)
        and proof.was_struck(moment, evidence.midi, present)
    ]
    clear = {pitch: presence for presence, pitch, _, _ in found}
    return [one for one in found if _has_its_own(moment, one[1], clear, present)]


def _is_higher(moment: Moment, pitch: float, present: Sequence[float]) -> bool:
    """Whether what seems to be a pitch is the octave or the twelfth above it: none of its other partials is there."""
    for above in SHADOW_SEMITONES[:2].tolist():
        beside = [*present, pitch + above]
        others = moment.evidence(pitch, beside, STRAY_CENTS)
        is_absent = others.free >= LEAST_FREE and others.presence < OTHERS_PRESENCE
        if is_absent and moment.deep_presence(pitch, beside, STRAY_CENTS) < OTHERS_PRESENCE:
            return True
    return False


def _has_its_own(moment: Moment, pitch: float, clear: Mapping[float, float], present: Sequence[float]) -> bool:
    """Whether a pitch was struck for all that is left of it without each of some others that it may hide; where too
    little is, it must be clear: a knock on the body with a string's partials above it is no string, and has no
    overtones of its own. `clear`: how clearly each pitch is there."""
    for other in (other for other in clear if shadows(pitch, other) and clear[pitch] < max(SURE, clear[other])):
        if moment.evidence(pitch, [*present, other], STRAY_CENTS).free < LEAST_FREE:
            if moment.evidence(pitch, present, STRAY_CENTS).presence < STRAY_ACCEPT:
                return False
        elif newly(moment, [pitch], [*present, other], STRAY_CENTS) == [None]:
            return False
        overtones = moment.overtones(pitch, [*present, other], STRAY_CENTS)
        if clear[pitch] < clear[other] if overtones is None else overtones < OTHERS_PRESENCE:
            return False
    return True


def _covering(moment: Moment, present: Sequence[float]) -> list[float]:
    """The pitches behind whose partials a stray's may lie: a low string has one next to every frequency, but none of
    them is new where it only rings on."""
    return [midi for midi in present if not moment.is_low(midi) or _gain_db(moment, midi) > RINGS_ON_DB]


def _gain_db(moment: Moment, midi: float) -> float:
    """How much all of a string's partials grew."""
    return moment.evidence(midi, (), STRAY_CENTS).gain_db
