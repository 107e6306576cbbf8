"""A take in echo or reverb: strings sound on that the player has silenced, and what was struck comes back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from livecheck.hearing.heard import HeardNote
from livecheck.judging.verdicts.echo import is_repeat, lag_s
from livecheck.judging.verdicts.judge import Judgement

LEAST_TAILS, WET_DB, WET_SHARE = 4, -35.0, 0.3


def is_wet(notes: Sequence[HeardNote]) -> bool:
    """Whether an echo or reverb keeps sounding what the player has silenced: not one string rings on, but many do."""
    tails = [note.tail_db for note in notes if note.tail_db is not None]
    return len(tails) >= LEAST_TAILS and sum(tail > WET_DB for tail in tails) >= WET_SHARE * len(tails)


def without_repeats(judgements: Sequence[Judgement], notes: Sequence[HeardNote]) -> list[Judgement]:
    """A delay unit's repeats are no extras."""
    echo_s = lag_s([extra for judgement in judgements for extra in judgement.extras], notes)
    if echo_s is None:
        return list(judgements)
    return [replace(j, extras=tuple(e for e in j.extras if not is_repeat(e, notes, echo_s))) for j in judgements]
