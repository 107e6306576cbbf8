"""`livecheck grade` on takes that can be used."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.cli.call import START_S, livecheck_call, write_audio, write_midi


def report(folder: Path, *arguments: str, status: int) -> Any:
    done = livecheck_call("grade", *arguments, "--json", folder=folder)
    assert (done.stderr, done.returncode) == ("", status)
    return json.loads(done.stdout)


def test_a_clean_take_is_clean(folder: Path) -> None:
    document = report(folder, "lesson.toml", write_midi(folder), status=0)
    assert (document["lesson"], document["take"], document["source"]) == ("Rain on the shed", "take.mid", "midi")
    assert document["clean"] is True
    assert document["tempo"] == pytest.approx(90.0, abs=0.2)
    assert [figure["figure"] for figure in document["figures"]] == ["1", "2"]
    assert document["figures"][0]["start_s"] == pytest.approx(START_S, abs=0.01)


def test_the_same_take_as_sound(folder: Path) -> None:
    document = report(folder, "lesson.toml", write_audio(folder), status=0)
    assert document["source"] == "audio"
    assert [(figure["found"], figure["clean"]) for figure in document["figures"]] == [(True, True)] * 2
    assert document["figures"][0]["start_s"] == pytest.approx(START_S, abs=0.03)


def test_a_fault_is_exit_status_1(folder: Path) -> None:
    document = report(folder, "lesson.toml", write_midi(folder, late_s=0.25), status=1)
    faults = {
        (figure["figure"], checkpoint["step"], fault)
        for figure in document["figures"]
        for checkpoint in figure["checkpoints"]
        for fault in checkpoint["faults"]
    }
    assert faults == {("1", 2, "late"), ("2", 2, "late")}


def test_a_missing_figure_is_exit_status_1(folder: Path) -> None:
    write_midi(folder, "short.mid")
    lesson = (folder / "lesson.toml").read_text()
    longer = lesson.replace('name = "2"', 'name = "3"').replace("fret = 10", "fret = 1").split("[[figure]]")[-1]
    (folder / "lesson.toml").write_text(f"{lesson}\n[[figure]]{longer}")
    document = report(folder, "lesson.toml", "short.mid", status=1)
    assert [(figure["figure"], figure["found"]) for figure in document["figures"]] == [
        ("1", True),
        ("2", True),
        ("3", False),
    ]


def test_several_takes_are_a_list_and_a_bad_one_does_not_stop_the_rest(folder: Path) -> None:
    write_midi(folder)
    (folder / "bad.wav").write_text("no sound")
    done = livecheck_call("grade", "lesson.toml", "take.mid", "bad.wav", "take.mid", "--json", folder=folder)
    documents = json.loads(done.stdout)
    assert [document["take"] for document in documents] == ["take.mid", "bad.wav", "take.mid"]
    assert documents[0] == documents[2]
    assert list(documents[1]) == ["take", "error"]
    assert documents[1]["error"].startswith("bad.wav: is not audio")
    assert done.stderr == f"livecheck: {documents[1]['error']}\n"
    assert done.returncode == 2


def test_several_takes_at_the_terminal(folder: Path) -> None:
    write_midi(folder)
    (folder / "bad.wav").write_text("no sound")
    done = livecheck_call("grade", "lesson.toml", "bad.wav", "take.mid", folder=folder)
    assert done.returncode == 2
    assert "bad.wav: is not audio" in done.stdout
    assert done.stdout.index("bad.wav") < done.stdout.index("take.mid")


def test_a_take_is_what_its_content_says(folder: Path) -> None:
    write_midi(folder, "take.wav")
    write_audio(folder, "sound.wav")
    (folder / "sound.wav").rename(folder / "sound.mid")
    documents = report(folder, "lesson.toml", "take.wav", "sound.mid", status=0)
    assert [document["source"] for document in documents] == ["midi", "audio"]


@pytest.mark.parametrize(
    ("arguments", "figures"),
    [
        ("lesson.toml take.mid", ["1", "2"]),
        ("lesson.toml take.mid --figure 2", ["2"]),
        ("lesson.toml take.mid --figure 2 1", ["1", "2"]),
        ("lesson.toml take.mid --figure 2 --figure 1", ["1", "2"]),
        ("--figure 2 lesson.toml take.mid", ["2"]),
        ("--figure 2 1 lesson.toml take.mid", ["1", "2"]),
        ("--figure 2 lesson.toml --figure 1 take.mid", ["1", "2"]),
        ("lesson.toml --figure 2 take.mid", ["2"]),
        ("lesson.toml --figure=2 take.mid", ["2"]),
        ("lesson.toml --timing click take.mid --start 0.5", ["1", "2"]),
    ],
)
def test_arguments_in_any_order(folder: Path, arguments: str, figures: list[str]) -> None:
    write_midi(folder, figures=figures)
    document = report(folder, *arguments.split(), status=0)
    assert [figure["figure"] for figure in document["figures"]] == figures


def test_tolerances_by_name(folder: Path) -> None:
    write_midi(folder, late_s=0.12)
    report(folder, "lesson.toml", "take.mid", "--tolerances", "standard", status=1)
    report(folder, "lesson.toml", "take.mid", "--tolerances", "relaxed", status=0)


def test_the_players_own_cents_count(folder: Path) -> None:
    write_midi(folder)
    own = (folder / "three.toml").read_text().replace("[changes]", "string_cents = [0, 40, 0]\n\n[changes]")
    (folder / "own.toml").write_text(own)
    document = report(folder, "lesson.toml", "take.mid", "--copedent", "own.toml", status=1)
    flat = [c for f in document["figures"] for c in f["checkpoints"] if c["faults"]]
    assert [(checkpoint["string"], checkpoint["faults"]) for checkpoint in flat] == [(2, ["flat"])]


def test_inputs_by_name_and_by_path(folder: Path) -> None:
    write_midi(folder)
    report(folder, "lesson.toml", "take.mid", "--input", "keyboard", status=0)
    write_midi(folder, tell_range=False)
    report(folder, "lesson.toml", "take.mid", status=1)
    (folder / "wide.toml").write_text("format = 1\nbend_semitones = 12\n[channels]\n1 = 1\n2 = 2\n3 = 3\n")
    report(folder, "lesson.toml", "take.mid", "--input", "wide.toml", status=0)


def test_the_same_call_gives_the_same_bytes(folder: Path) -> None:
    write_audio(folder)
    first, second = (
        livecheck_call(
            "grade", "lesson.toml", "take.wav", "--json", folder=folder, environment={"PYTHONHASHSEED": seed}
        )
        for seed in ("1", "2")
    )
    assert first.stdout == second.stdout != ""


def test_help_waits_for_no_library(folder: Path) -> None:
    """What takes a tenth of a second to be imported is imported by what needs it."""
    done = livecheck_call("--help", folder=folder, environment={"PYTHONPROFILEIMPORTTIME": "1"})
    imported = {line.rpartition("|")[2].strip() for line in done.stderr.splitlines()}
    assert done.returncode == 0
    assert "grade" in done.stdout
    assert "livecheck.cli.grade" in imported
    assert not {"numpy", "soundfile", "mido", "msgspec", "rich", "soxr", "aubio"} & imported
