"""The damage that is done: the same from the same seed, and deep enough to get past the front door."""

from __future__ import annotations

from random import Random

from tests.fuzz import seeds
from tests.fuzz.kinds import KINDS
from tests.fuzz.mutation import damaged, miswritten, refitted, resealed


def test_the_same_seed_gives_the_same_input() -> None:
    for kind in KINDS.values():
        assert kind.make(Random("porch")) == kind.make(Random("porch"))
        assert len({kind.make(Random(seed)) for seed in range(20)}) > 10


def test_damage_changes_a_file_and_never_needs_one() -> None:
    whole = seeds.midis()[0]
    changed = [damaged(whole, Random(seed)) for seed in range(100)]
    assert sum(data != whole for data in changed) > 90
    assert sum(len(data) != len(whole) for data in changed) > 20
    for seed in range(100):
        damaged(b"", Random(seed))
        miswritten("", Random(seed))


def test_an_ogg_file_is_sealed_as_its_encoder_does_it() -> None:
    for whole in seeds.sounds("OGG"):
        broken = bytearray(whole)
        broken[22:26] = b"none"
        assert resealed(bytes(broken)) == resealed(whole) == whole


def test_a_track_is_fitted_as_mido_does_it() -> None:
    whole = seeds.midis()[0]
    assert refitted(whole) == whole
    assert refitted(whole.replace(b"MTrk\x00\x00\x00", b"MTrk\x7f\x00\x00")) == whole
