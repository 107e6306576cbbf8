"""A lesson that is right, with one mistake put into it: every kind of mistake that a lesson can have.

Each spoils the tables of a lesson (`written.document`) in place and gives what the sentence about it has to begin with
after the file's name, or None where this lesson has no place for the mistake.
"""

from __future__ import annotations

from collections.abc import Callable
from random import Random

from livecheck.lesson.figure import Lesson
from tests.fuzz.written import Document

Spoil = Callable[[Document, Lesson, Random], str | None]
BAD_NUMBERS = (0, -1, -0.5, float("nan"), float("inf"), float("-inf"))


def no_format(document: Document, _: Lesson, __: Random) -> str:
    del document["format"]
    return 'lacks the key "format"'


def unknown_key(document: Document, _: Lesson, rng: Random) -> str:
    figure, step, place = _any_step(document, rng)
    table, begins = rng.choice(((document, ""), (figure, f'figure "{figure["name"]}": '), (step, place)))
    table["colour"] = 1
    return f'{begins}unknown key "colour"'


def bad_tempo(document: Document, _: Lesson, rng: Random) -> str:
    document["tempo"] = rng.choice(BAD_NUMBERS)
    return "tempo is "


def bad_length(document: Document, _: Lesson, rng: Random) -> str:
    figure = rng.choice(document["figure"])
    figure["length"] = rng.choice(BAD_NUMBERS)
    return f'figure "{figure["name"]}": length'


def bad_beat(document: Document, _: Lesson, rng: Random) -> str:
    _figure, step, place = _any_step(document, rng)
    step["beat"] = rng.choice(BAD_NUMBERS)
    return f"{place}beat"


def bad_fret(document: Document, _: Lesson, rng: Random) -> str:
    _figure, step, place = _any_step(document, rng)
    step.pop("slant", None)
    step["fret"] = rng.choice(BAD_NUMBERS[1:])
    return f"{place}fret "


def bad_over(document: Document, _: Lesson, rng: Random) -> str | None:
    moves = [found for found in _steps(document) if "over" in found[1]]
    if not moves:
        return None
    _figure, step, place = rng.choice(moves)
    step["over"] = rng.choice((*BAD_NUMBERS, 999))
    return f"{place}over"


def one_name_for_two(document: Document, _: Lesson, rng: Random) -> str:
    figure = rng.choice(document["figure"])
    document["figure"].append(dict(figure))
    return f'figure "{figure["name"]}": two figures have this name'


def no_such_string(document: Document, lesson: Lesson, rng: Random) -> str:
    _figure, step, place = _any_step(document, rng)
    string = rng.choice((0, -1, len(lesson.copedent.strings) + 1))
    key = rng.choice(("pick", "block", "pull"))
    step[key] = {string: 1} if key == "pull" else [string]
    return f"{place}{key} names string {string}; the copedent has strings 1 to "


def no_such_lever(document: Document, _: Lesson, rng: Random) -> str:
    _figure, step, place = _any_step(document, rng)
    step["down"] = rng.choice((["Z"], {"Z": 0.5}))
    return f'{place}down names "Z"; the copedent has '


def out_of_order(document: Document, _: Lesson, rng: Random) -> str | None:
    figures = [figure for figure in document["figure"] if len(figure["steps"]) > 1]
    if not figures:
        return None
    figure = rng.choice(figures)
    number = rng.randrange(1, len(figure["steps"]))
    figure["steps"][number]["beat"] = figure["steps"][number - 1]["beat"]
    return f'figure "{figure["name"]}", step {number + 1}: beat '


def beyond_the_end(document: Document, _: Lesson, rng: Random) -> str:
    _figure, step, place = _any_step(document, rng)
    step["beat"] = 5000
    return f"{place}beat 5000 lies outside the figure"


def no_position(document: Document, _: Lesson, rng: Random) -> str:
    figure = rng.choice(document["figure"])
    for key in ("fret", "slant"):
        figure["steps"][0].pop(key, None)
    return f'figure "{figure["name"]}", step 1: the first step gives no position'


def nothing_rings(document: Document, _: Lesson, rng: Random) -> str:
    """All is silenced, and then the bar moves."""
    figure = rng.choice(document["figure"])
    end = 1 + max(len(figure["steps"]), 900)
    figure["length"] = end
    figure["steps"] += [{"beat": end - 2, "block": "all"}, {"beat": end - 1, "fret": 31}]
    return f'figure "{figure["name"]}", step {len(figure["steps"])}: a move with nothing ringing'


SPOILS: tuple[Spoil, ...] = (
    no_format, unknown_key, bad_tempo, bad_length, bad_beat, bad_fret, bad_over, one_name_for_two, no_such_string,
    no_such_lever, out_of_order, beyond_the_end, no_position, nothing_rings,
)  # fmt: skip


def _steps(document: Document) -> list[tuple[Document, Document, str]]:
    """Figure, step, and how a sentence about the step begins."""
    return [
        (figure, step, f'figure "{figure["name"]}", step {number}: ')
        for figure in document["figure"]
        for number, step in enumerate(figure["steps"], start=1)
    ]


def _any_step(document: Document, rng: Random) -> tuple[Document, Document, str]:
    return rng.choice(_steps(document))
