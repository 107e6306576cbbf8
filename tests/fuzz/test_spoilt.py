"""Every kind of mistake, anywhere in any lesson, is told with its file, figure and step."""

from __future__ import annotations

import tomllib
from random import Random

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from livecheck.errors import Unusable
from livecheck.lesson.reading import read_lesson
from tests.fuzz import invented
from tests.fuzz.spoilt import SPOILS, Spoil
from tests.fuzz.written import document, lesson_text, text_of

SEEDS = st.integers(0, 2**32)


def complaint_about(text: str, rng: Random) -> str:
    """What is said after the file's name, in one line."""
    own = invented.lesson(rng).copedent
    with pytest.raises(Unusable, match=r"^porch\.toml: [^\n]+$") as caught:
        read_lesson(text, "porch.toml", lambda _: own)
    return str(caught.value).removeprefix("porch.toml: ")


@pytest.mark.parametrize("spoil", SPOILS, ids=lambda spoil: spoil.__name__)
@settings(max_examples=25)
@given(seed=SEEDS)
def test_a_mistake_is_told_where_it_is(spoil: Spoil, seed: int) -> None:
    lesson, rng = invented.lesson(Random(seed)), Random(seed)
    tables = document(lesson, rng)
    begins = spoil(tables, lesson, rng)
    assume(begins is not None)
    assert complaint_about(text_of(tables), Random(seed)).startswith(begins or "never")


@given(SEEDS, st.floats(0.0, 1.0))
def test_a_lesson_that_breaks_off_is_no_lesson(seed: int, share: float) -> None:
    text = lesson_text(invented.lesson(Random(seed)), Random(seed))
    cut = text[: int(share * len(text.rstrip("]\n")))]
    try:
        tomllib.loads(cut)
    except tomllib.TOMLDecodeError:
        assert complaint_about(cut, Random(seed)).startswith("not TOML: ")
    else:
        assert "lacks the key" in complaint_about(cut, Random(seed))
