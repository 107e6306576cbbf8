"""Finding and reading the files that a lesson needs."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from livecheck.errors import Unusable
from livecheck.sources import library
from livecheck.sources.file import MOST_TEXT_BYTES
from livecheck.sources.library import (
    lesson_tolerances,
    load_copedent,
    load_input,
    load_lesson,
    load_tolerances,
    names_of,
    on_instrument,
)

LESSON = """
format = 1
tempo = 90
copedent = "{copedent}"
tolerances = "{tolerances}"

[[figure]]
name = "1"
length = 4
steps = [{{ beat = 1, fret = 3, pick = [1, 2] }}]
"""
COPEDENT = """
format = 1
strings = ["E4", "C4"]

[changes]
P = { 2 = 2 }
"""


def write_lesson(folder: Path, copedent: str = "e9-ten-string", tolerances: str = "standard") -> str:
    path = folder / "lesson.toml"
    path.write_text(LESSON.format(copedent=copedent, tolerances=tolerances), encoding="utf-8")
    return str(path)


@pytest.mark.parametrize("kind", ["copedents", "tolerances", "inputs"])
def test_every_file_that_comes_along_can_be_read(kind: str) -> None:
    load = {"copedents": load_copedent, "tolerances": load_tolerances, "inputs": load_input}[kind]
    assert names_of(kind)
    for name in names_of(kind):
        load(name)


def test_a_path_is_relative_to_the_lesson(tmp_path: Path) -> None:
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "two.toml").write_text(COPEDENT, encoding="utf-8")
    lesson = load_lesson(write_lesson(tmp_path, "mine/two.toml"))
    assert lesson.copedent.strings == (64.0, 60.0)
    assert lesson.copedent_name == "mine/two.toml"


def test_a_files_name_needs_no_ending_where_the_file_is_there(tmp_path: Path) -> None:
    (tmp_path / "two").write_text(COPEDENT, encoding="utf-8")
    assert load_lesson(write_lesson(tmp_path, "two")).copedent.strings == (64.0, 60.0)


def test_tolerances_too_are_relative_to_the_lesson(tmp_path: Path) -> None:
    text = (library.configs_folder() / "tolerances" / "strict.toml").read_text(encoding="utf-8")
    (tmp_path / "own.toml").write_text(text, encoding="utf-8")
    path = write_lesson(tmp_path, tolerances="own.toml")
    assert lesson_tolerances(load_lesson(path), path) == load_tolerances("strict")


def test_what_is_not_there_names_what_is(tmp_path: Path) -> None:
    with pytest.raises(
        Unusable, match=r'lesson\.toml: copedent: there is no "e9"; wanted .*e9-ten-string, .*\.toml file'
    ):
        load_lesson(write_lesson(tmp_path, "e9"))
    path = write_lesson(tmp_path, tolerances="harsh")
    with pytest.raises(
        Unusable, match=r'tolerances: there is no "harsh"; wanted relaxed, standard, strict, or the path'
    ):
        lesson_tolerances(load_lesson(path), path)


def test_a_mistake_in_a_copedent_names_lesson_and_copedent(tmp_path: Path) -> None:
    (tmp_path / "two.toml").write_text(COPEDENT + "Q = { 3 = 1 }\n", encoding="utf-8")
    with pytest.raises(Unusable, match=r"lesson\.toml: copedent: .*two\.toml: .*string 3"):
        load_lesson(write_lesson(tmp_path, "two.toml"))


def test_a_byte_order_mark_and_other_line_ends_do_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "lesson.toml"
    text = LESSON.format(copedent="e9-ten-string", tolerances="standard").replace("\n", "\r\n")
    path.write_bytes(b"\xef\xbb\xbf" + text.encode("utf-8"))
    assert load_lesson(str(path)).tempo == 90


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", 'lacks the key "format"'),
        (b"title = 'caf\xe9'", "is not UTF-8 text .byte 13.; wanted a lesson file in UTF-8"),
        ("format = 1".encode("utf-16"), "is not UTF-8 text"),
        (b"\x00" * 100, "not TOML"),
        (b"#" * (MOST_TEXT_BYTES + 1), "is larger than 1 MB; wanted a lesson file"),
    ],
)
def test_what_is_no_lesson_says_why(tmp_path: Path, content: bytes, said: str) -> None:
    path = tmp_path / "lesson.toml"
    path.write_bytes(content)
    with pytest.raises(Unusable, match=rf"lesson\.toml: {said}") as caught:
        load_lesson(str(path))
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("path", "said"),
    [
        ("nowhere.toml", "cannot be read: no such file or directory"),
        (".", "is a folder"),
        ("/dev/zero", "is a pipe or a device, not a file"),
        ("pipe.toml", "is a pipe or a device, not a file"),
        ("nul\0.toml", "cannot be read: embedded null byte"),
        ("long" * 100 + ".toml", "cannot be read: file name too long"),
    ],
)
def test_what_cannot_be_read_says_why(tmp_path: Path, path: str, said: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    os.mkfifo("pipe.toml")
    with pytest.raises(Unusable, match=f"{said}; wanted a lesson file"):
        load_lesson(path)


def test_a_file_that_may_not_be_read_says_so(tmp_path: Path) -> None:
    path = tmp_path / "lesson.toml"
    path.touch(mode=0)
    # Root may read everything, so somebody else tries.
    user = os.geteuid()
    os.seteuid(65534 if user == 0 else user)
    try:
        with pytest.raises(Unusable, match="cannot be read: permission denied; wanted a lesson file"):
            load_lesson(str(path))
    finally:
        os.seteuid(user)


def test_the_players_own_instrument_brings_its_cents(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("two.toml").write_text(COPEDENT, encoding="utf-8")
    own = COPEDENT.replace("[changes]", "string_cents = [-14, 2]\n\n[changes]").replace("2 = 2", "2 = 1.96")
    Path("own.toml").write_text(own, encoding="utf-8")
    lesson = on_instrument(load_lesson(write_lesson(tmp_path, "two.toml")), "own.toml")
    assert lesson.copedent.strings == pytest.approx((63.86, 60.02))
    assert lesson.copedent.changes["P"] == {2: 1.96}


@pytest.mark.parametrize(
    ("before", "after", "said"),
    [
        ('"E4", "C4"', '"E4", "C4", "G3"', "has 3 strings; wanted 2,"),
        ('"E4", "C4"', '"E4", "D4"', "string 2 is D4; wanted C4,"),
        ("P =", "R =", "has the changes R; wanted P,"),
        ("P = { 2 = 2 }", "", "has the changes none; wanted P,"),
        ("2 = 2", "2 = 1", "P moves string 2 by 1 semitones; wanted about 2,"),
        ("2 = 2", "1 = 2", "P moves string 1 by 2 semitones; wanted about 0,"),
    ],
)
def test_another_instrument_is_not_the_players_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, before: str, after: str, said: str
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("two.toml").write_text(COPEDENT, encoding="utf-8")
    Path("own.toml").write_text(COPEDENT.replace(before, after), encoding="utf-8")
    lesson = load_lesson(write_lesson(tmp_path, "two.toml"))
    with pytest.raises(Unusable, match=f"own.toml: {said} as in the lesson's copedent"):
        on_instrument(lesson, "own.toml")


def test_an_installed_package_has_its_own_configs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    package = tmp_path / "livecheck"
    (package / "configs" / "tolerances").mkdir(parents=True)
    (package / "configs" / "tolerances" / "packed.toml").touch()
    monkeypatch.setattr(library, "files", lambda _: package)
    assert library.configs_folder() == package / "configs"
    assert names_of("tolerances") == ["packed"]


WORDS = st.one_of(
    st.sampled_from([*"=[]{},.\"'#\n-019", "[[figure]]", "[copedent]", "[[]", "beat", "fret", "slant", "down", "pick"]),
    st.sampled_from(
        ["over", "block", "roll", "ring", "length", "tempo", "format", "nan", "-inf", "1e999", "1979-05-27"]
    ),
    st.sampled_from(
        ["true", '"all"', '"9/2"', '"4 1/2"', '"1e9999999"', '"1/0"', "{ A = 0.5 }", "\\u0000", "9" * 5000]
    ),
    st.text(max_size=3),
    st.integers().map(str),
)


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.floats(0.0, 1.0), st.integers(0, 12), WORDS), min_size=1, max_size=4))
def test_any_text_is_a_lesson_or_unusable(tmp_path: Path, changes: list[tuple[float, int, str]]) -> None:
    text = LESSON.format(copedent="e9-ten-string", tolerances="standard")
    for where, length, word in changes:
        at = int(where * len(text))
        text = text[:at] + word + text[at + length :]
    path = tmp_path / "lesson.toml"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    try:
        lesson = load_lesson(str(path))
        lesson_tolerances(lesson, str(path))
    except Unusable as error:
        said = str(error)
    else:
        said = f"{path}: is fine"
    assert said.startswith(f"{path}: ")
