"""The published JSON Schemas are what the structs say, take what is right and refuse what is wrong.

Outside check: the `jsonschema` library and the meta-schema of JSON Schema draft 2020-12.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tomllib
from pathlib import Path

import jsonschema
import pytest

from livecheck.lesson.schema import FILES, schema_text
from livecheck.sources.library import configs_folder
from tests.lesson.written import lesson_text

CONFIGS = configs_folder()
START = "beat = 1, fret = 3, pick = [5, 6]"


def validator(kind: str) -> jsonschema.Draft202012Validator:
    text = (CONFIGS / "schemas" / f"{kind}.schema.json").read_text(encoding="utf-8")
    return jsonschema.Draft202012Validator(json.loads(text))


@pytest.mark.parametrize("name", FILES)
def test_the_published_schema_is_the_generated_one(name: str) -> None:
    assert (CONFIGS / "schemas" / name).read_text(encoding="utf-8") == schema_text(FILES[name])


def test_the_module_writes_them(tmp_path: Path) -> None:
    subprocess.run([sys.executable, "-m", "livecheck.lesson.schema", str(tmp_path)], check=True, timeout=60)
    assert {path.name: path.read_text(encoding="utf-8") for path in tmp_path.iterdir()} == {
        name: schema_text(kind) for name, kind in FILES.items()
    }


@pytest.mark.parametrize("kind", ["lesson", "copedent"])
def test_a_schema_is_one(kind: str) -> None:
    jsonschema.Draft202012Validator.check_schema(validator(kind).schema)


@pytest.mark.parametrize("path", sorted((CONFIGS / "copedents").glob("*.toml")), ids=lambda path: path.stem)
def test_bundled_copedents_fit(path: Path) -> None:
    validator("copedent").validate(tomllib.loads(path.read_text(encoding="utf-8")))


def test_every_lesson_in_the_tree_fits() -> None:
    """Lessons that come with livecheck: all TOML files with a figure in them."""
    root = Path(__file__).parents[2]
    lessons = [
        path
        for folder in ("configs", "livecheck")
        for path in (root / folder).rglob("*.toml")
        if "figure" in tomllib.loads(path.read_text(encoding="utf-8"))
    ]
    for path in lessons:
        validator("lesson").validate(tomllib.loads(path.read_text(encoding="utf-8")))


@pytest.mark.parametrize(
    "step",
    [
        "beat = 2, fret = 5.5, over = 0.5, remark = 'slowly'",
        "beat = '2 1/2', slant = { 5 = 3, 6 = 4 }",
        "beat = '5/2', pull = { 10 = 1 }",
        "beat = 2, down = ['A', 'B']",
        "beat = 2, down = { A = 1, B = 0.5 }",
        "beat = 2.5, pick = [5, 6], ring = true, roll = '1/8', harmonic = 12, swell = true, vibrato = true",
        "beat = 2, pick = [5], ring = [6], block = [8]",
        "beat = 2, block = 'all'",
    ],
)
def test_steps_that_fit(step: str) -> None:
    validator("lesson").validate(tomllib.loads(lesson_text(START, step, head='reference = 442\nmeter = "3/4"')))


@pytest.mark.parametrize(
    "step",
    [
        "fret = 5",
        "beat = 2, frett = 5",
        "beat = 'two', fret = 5",
        "beat = 2, fret = -1",
        "beat = 2, fret = '5'",
        "beat = 2, slant = { five = 3 }",
        "beat = 2, slant = { 0 = 3 }",
        "beat = 2, slant = { 5 = '3' }",
        "beat = 2, pull = { x = 1 }",
        "beat = 2, down = 'A'",
        "beat = 2, down = { A = 1.5 }",
        "beat = 2, pick = 5",
        "beat = 2, pick = []",
        "beat = 2, pick = [0]",
        "beat = 2, pick = [5, 5]",
        "beat = 2, pick = [5], harmonic = 3",
        "beat = 2, block = 'some'",
        "beat = 2, vibrato = 1",
    ],
)
def test_steps_that_do_not_fit(step: str) -> None:
    with pytest.raises(jsonschema.ValidationError):
        validator("lesson").validate(tomllib.loads(lesson_text(START, step)))


@pytest.mark.parametrize("head", ["tempi = 60", "meter = 4", "reference = true", "tolerances = 1"])
def test_lessons_that_do_not_fit(head: str) -> None:
    validator("lesson").validate(tomllib.loads(lesson_text(START)))
    with pytest.raises(jsonschema.ValidationError):
        validator("lesson").validate(tomllib.loads(lesson_text(START, head=head)))


@pytest.mark.parametrize(
    "text",
    [
        'strings = ["E4"]',
        "format = 1",
        "format = 1\nstrings = []",
        'format = 2\nstrings = ["E4"]',
        'format = 1\nstrings = ["H4"]',
        'format = 1\nstrings = ["E4"]\ncolor = 1',
        'format = 1\nstrings = ["E4"]\nstring_cents = [200]',
        'format = 1\nstrings = ["E4"]\n[changes]\nP = { x = 2 }',
        'format = 1\nstrings = ["E4"]\n[changes]\nP = { 1 = "2" }',
        'format = 1\nstrings = ["E4"]\n[changes]\nP = 2',
    ],
)
def test_copedents_that_do_not_fit(text: str) -> None:
    with pytest.raises(jsonschema.ValidationError):
        validator("copedent").validate(tomllib.loads(text))
