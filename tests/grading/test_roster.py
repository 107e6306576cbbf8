"""Whose take a file is, of which day and lesson."""

from __future__ import annotations

import os
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

from livecheck.errors import Unusable
from livecheck.grading.job import Candidate
from livecheck.grading.roster import Found, found_in, job_of, taken_at
from tests.pages.example import asked

WALTZ = Candidate("waltz", asked())
LONG = Candidate(
    "slow-waltz-two",
    replace(asked(), brief=replace(asked().brief, lesson=replace(asked().brief.lesson, title="Second waltz"))),
)


@pytest.mark.parametrize(
    ("name", "student"),
    [
        ("Anna/take.ogg", "Anna"),
        ("Anna/2026-11-03 waltz.wav", "Anna"),
        ("Anna B./week 1/x.wav", "Anna B."),
        ("anna.wav", "anna"),
        ("anna_waltz_take2.wav", "anna"),
        ("2026-11-03 Anna Berg waltz.wav", "Anna Berg"),
        ("20261103-anna.wav", "anna"),
        ("waltz/anna.wav", "anna"),
        ("pupil-12.wav", "pupil 12"),
        ("waltz.wav", "waltz"),
        ("2026-11-03.wav", "2026-11-03"),
        ("Zoë Ångström.flac", "Zoë Ångström"),
    ],
)
def test_students(name: str, student: str) -> None:
    assert job_of(Found("x", name), [WALTZ, LONG]).student == student


def test_where_a_name_says_nothing_the_folder_that_was_given_does() -> None:
    def student(name: str) -> str:
        return job_of(Found("x", name, "Anna"), [WALTZ, LONG]).student

    assert [student(name) for name in ("2026-11-03.wav", "waltz take 2.wav", "bo.wav", "Cy/1.wav")] == [
        "Anna", "Anna", "bo", "Cy",
    ]  # fmt: skip


def test_the_longest_name_of_a_lesson_counts_and_without_one_all_are_possible() -> None:
    def stems(name: str) -> list[str]:
        return [lesson.stem for lesson in job_of(Found("x", name), [WALTZ, LONG]).lessons]

    assert stems("anna waltz.wav") == ["waltz"]
    assert stems("anna slow_waltz_two.wav") == ["slow-waltz-two"]
    assert stems("Second Waltz/anna.wav") == ["slow-waltz-two"]
    assert stems("waltzing/anna.wav") == ["waltz", "slow-waltz-two"]


def test_the_day_in_the_name_goes_before_the_file_s(tmp_path: Path) -> None:
    path = tmp_path / "take.wav"
    path.write_bytes(b"")
    os.utime(path, (1_790_000_000, 1_790_000_000))
    assert taken_at(str(path), "anna 2026-11-03.wav").date().isoformat() == "2026-11-03"
    assert taken_at(str(path), "anna 2026-13-43.wav") == datetime.fromtimestamp(1_790_000_000).astimezone()


def test_folders_are_gone_through_but_not_what_is_hidden_or_elsewhere(tmp_path: Path) -> None:
    for name in ("b/2.wav", "b/1.MID", "a/x.flac", ".hidden/x.wav", "a/.x.wav", "a/notes.txt", "elsewhere.txt"):
        path = tmp_path / "takes" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"")
    (tmp_path / "secret.wav").write_bytes(b"")
    (tmp_path / "takes" / "a" / "link.wav").symlink_to(tmp_path / "secret.wav")
    (tmp_path / "takes" / "a" / "round").symlink_to(tmp_path / "takes")
    found = found_in([str(tmp_path / "takes"), str(tmp_path / "secret.wav")])
    assert [one.name for one in found] == ["a/x.flac", "b/1.MID", "b/2.wav", "secret.wav"]


def test_a_folder_without_a_take_is_told(tmp_path: Path) -> None:
    with pytest.raises(Unusable, match="has no take in it"):
        found_in([str(tmp_path)])


def test_a_folder_that_cannot_be_read_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "Ann").mkdir()
    (tmp_path / "bo.wav").touch()
    scan = os.scandir

    def guarded(path: str) -> object:
        if path.endswith("Ann"):
            raise PermissionError(13, "Permission denied", path)
        return scan(path)

    monkeypatch.setattr(os, "scandir", guarded)
    with pytest.raises(Unusable, match="Ann: cannot be read: permission denied; wanted a folder of takes"):
        found_in([str(tmp_path)])
