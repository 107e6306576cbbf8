"""What the command line does to, and takes from, the terminal around it."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import mido
import numpy as np
import pytest
import soundfile

import livecheck
from livecheck.cli import grade
from livecheck.cli.call import COMMANDS
from livecheck.cli.main import main
from tests.cli.call import livecheck_call, variables, write_audio, write_midi


@pytest.fixture(autouse=True)
def _interruptible() -> Iterator[None]:
    """What a shell runs in the background ignores interrupts, and so would what these tests start."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


def test_a_reader_that_goes_away_is_no_error(folder: Path) -> None:
    write_midi(folder)
    reader, writer = os.pipe()
    os.close(reader)
    done = livecheck_call("grade", "lesson.toml", "take.mid", folder=folder, stdout=writer)
    os.close(writer)
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.parametrize("unbuffered", ["", "1"])
@pytest.mark.parametrize(
    "arguments", ["grade lesson.toml take.mid", "grade lesson.toml take.mid --json", "--help", "--version"]
)
def test_output_that_cannot_be_written_is_one_line(folder: Path, arguments: str, unbuffered: str) -> None:
    write_midi(folder)
    with open("/dev/full", "w") as full:
        done = livecheck_call(
            *arguments.split(), folder=folder, stdout=full, environment={"PYTHONUNBUFFERED": unbuffered}
        )
    assert done.returncode == 2
    assert done.stderr == "livecheck: the output cannot be written: No space left on device\n"


def test_streams_that_are_not_there(folder: Path) -> None:
    write_midi(folder)
    call = f"{sys.executable} -m livecheck grade lesson.toml take.mid"
    for redirection, status, said in (
        (">&-", 2, "livecheck: there is no standard output to write to\n"),
        ("2>&- >nowhere", 0, ""),
        (">&- 2>&-", 2, ""),
        ("--help >&-", 2, "livecheck: there is no standard output to write to\n"),
    ):
        done = subprocess.run(
            f"{call} {redirection}",
            shell=True,
            cwd=folder,
            env=variables(),
            capture_output=True,
            text=True,
            check=False,
        )
        assert (done.returncode, done.stdout, done.stderr) == (status, "", said)


def test_a_broken_mp3_is_heard_without_standard_error(folder: Path) -> None:
    write_audio(folder, "take.mp3")
    whole = (folder / "take.mp3").read_bytes()
    (folder / "take.mp3").write_bytes(whole[:-3000] + b"\xff\xfb\x90\x44" * 200)
    call = f"{sys.executable} -m livecheck grade lesson.toml take.mp3 2>&- >nowhere"
    assert subprocess.run(call, shell=True, cwd=folder, env=variables(), check=False).returncode in (0, 1)


def test_json_is_utf_8_whatever_the_terminal_speaks(folder: Path) -> None:
    lesson = (folder / "lesson.toml").read_text(encoding="utf-8")
    (folder / "lesson.toml").write_text(lesson.replace("Rain", "Règn ♭"), encoding="utf-8")
    write_midi(folder, "prisé.mid")
    call = ("grade", "lesson.toml", "prisé.mid")
    ascii_only = {"PYTHONIOENCODING": "ascii"}
    document = json.loads(livecheck_call(*call, "--json", folder=folder, environment=ascii_only).stdout)
    assert (document["lesson"], document["take"]) == ("Règn ♭ on the shed", "prisé.mid")
    done = livecheck_call(*call, folder=folder, environment=ascii_only)
    assert (done.returncode, done.stderr) == (0, "")
    assert "on the shed" in done.stdout


def test_a_pipe_gets_no_colours_and_a_note_goes_to_standard_error(folder: Path) -> None:
    write_audio(folder)
    whole = (folder / "take.wav").read_bytes()
    (folder / "take.wav").write_bytes(whole[:-40_000])
    done = livecheck_call("grade", "lesson.toml", "take.wav", "--json", folder=folder)
    assert json.loads(done.stdout)["take"] == "take.wav"
    assert done.stderr == "livecheck: take.wav: the file breaks off: it promises 13.00 s, only 12.58 s can be read\n"
    assert "\x1b" not in livecheck_call("grade", "lesson.toml", "take.wav", folder=folder).stdout


def on_a_terminal(folder: Path, *arguments: str, patience_s: float, interrupt: bool) -> tuple[int, str, str]:
    """Exit status, standard output and what a terminal got as standard error; interrupted at the first sign of life.

    The patience is set, since how much is heard in the usual one is up to the machine.
    """
    (folder / "patient.py").write_text(
        "import sys\nfrom livecheck.cli import progress\nfrom livecheck.cli.main import main\n"
        f"progress.PATIENCE_S = {patience_s}\nsys.exit(main())\n"
    )
    ours, theirs = os.openpty()
    process = subprocess.Popen(
        [sys.executable, "patient.py", *arguments],
        cwd=folder,
        env=variables(),
        stdout=subprocess.PIPE,
        stderr=theirs,
        text=True,
    )
    os.close(theirs)
    told = b""
    while True:
        try:
            piece = os.read(ours, 1000)
        except OSError:  # how Linux tells that nobody holds the other end of a terminal
            break
        if not piece:
            break
        if interrupt and not told:
            process.send_signal(signal.SIGINT)
        told += piece
    os.close(ours)
    output, _ = process.communicate(timeout=60)
    return process.returncode, output, told.decode()


def test_a_long_take_tells_how_far_it_is_and_can_be_stopped(folder: Path) -> None:
    samples = np.random.default_rng(3).uniform(-0.1, 0.1, 8_000 * 600).astype(np.float32)
    soundfile.write(folder / "long.wav", samples, 8_000)
    status, output, told = on_a_terminal(folder, "grade", "lesson.toml", "long.wav", patience_s=0.0, interrupt=True)
    first, *_, last = told.replace("\r\n", "\n").split("\r")
    assert (status, output) == (130, "")
    assert first == ""
    assert "long.wav: " in told
    assert "s of 600 s heard" in told
    assert last == "livecheck: stopped\n"


@pytest.mark.parametrize("module", ["livecheck.cli.call", "argparse", "livecheck.engine", "numpy"])
def test_an_interrupt_while_a_module_is_imported(folder: Path, module: str) -> None:
    write_midi(folder)
    (folder / "interrupted.py").write_text(
        "import sys\nfrom livecheck.cli.main import main\n\n"
        "class Finder:\n"
        "    def find_spec(self, name, path=None, target=None):\n"
        f"        if name == {module!r}:\n"
        "            sys.meta_path.remove(self)\n"
        "            raise KeyboardInterrupt\n\n"
        f"assert {module!r} not in sys.modules\n"
        "sys.meta_path.insert(0, Finder())\nsys.exit(main())\n"
    )
    call = [sys.executable, "interrupted.py", "grade", "lesson.toml", "take.mid"]
    done = subprocess.run(call, cwd=folder, env=variables(), capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "livecheck: stopped\n")


@pytest.mark.parametrize("module", ["livecheck.cli.call", "livecheck.engine"])
def test_an_interrupt_that_has_become_another_error(folder: Path, module: str) -> None:
    write_midi(folder)
    (folder / "interrupted.py").write_text(
        "import sys\nfrom livecheck.cli.main import main\n\n"
        "class Finder:\n"
        "    def find_spec(self, name, path=None, target=None):\n"
        f"        if name == {module!r}:\n"
        "            try:\n"
        "                raise KeyboardInterrupt\n"
        "            except KeyboardInterrupt as error:\n"
        "                raise RuntimeError('Error calling __set_name__') from error\n\n"
        "sys.meta_path.insert(0, Finder())\nsys.exit(main())\n"
    )
    call = [sys.executable, "interrupted.py", "grade", "lesson.toml", "take.mid"]
    done = subprocess.run(call, cwd=folder, env=variables(), capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "livecheck: stopped\n")


def test_further_interrupts_change_nothing(folder: Path) -> None:
    (folder / "again.py").write_text(
        "import os, signal, sys\nfrom livecheck.cli import call, output\nfrom livecheck.cli.main import main\n\n"
        "def press(*_):\n"
        "    os.kill(os.getpid(), signal.SIGINT)\n\n"
        "call.call, told = press, output.say\n"
        "output.say = lambda sentence: (press(), told(sentence))\n"
        "status = main()\npress()\nsys.exit(status)\n"
    )
    call = [sys.executable, "again.py", "demo"]
    done = subprocess.run(call, cwd=folder, env=variables(), capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "livecheck: stopped\n")


def test_a_short_take_tells_nothing_on_the_way(folder: Path) -> None:
    write_midi(folder)
    status, output, told = on_a_terminal(folder, "grade", "lesson.toml", "take.mid", patience_s=60.0, interrupt=False)
    assert (status, told) == (0, "")
    assert "CLEAN" in output


@pytest.mark.parametrize(("asked", "told"), [("", False), ("default", True)])
def test_warnings_are_for_those_who_ask(folder: Path, asked: str, told: bool) -> None:
    (folder / "broken.py").write_text(
        "import warnings\nfrom livecheck.cli import grade, main\n"
        "grade.run = lambda args: warnings.warn('a number is none') or 0\nmain.main()\n"
    )
    environment = variables({"PYTHONWARNINGS": asked})
    call = [sys.executable, "broken.py", "grade", "lesson.toml", "take.mid"]
    done = subprocess.run(call, cwd=folder, env=environment, capture_output=True, text=True, check=False)
    assert ("a number is none" in done.stderr) is told


@pytest.fixture
def _broken(monkeypatch: pytest.MonkeyPatch) -> None:
    def run(_: object) -> int:
        return int(mido.tick2second(1, 0, 1))

    monkeypatch.setattr(grade, "run", run)


@pytest.mark.usefixtures("_broken")
def test_an_error_of_livecheck_itself_asks_to_be_reported(
    capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("LIVECHECK_TRACE", raising=False)
    assert main(["grade", "lesson.toml", "take.mid"]) == 2
    told = capfd.readouterr()
    assert told.out == ""
    assert told.err.count("\n") == 1
    assert told.err.startswith("livecheck: something went wrong in livecheck itself: ZeroDivisionError")
    assert " at cli/call.py:" in told.err
    assert "please report it" in told.err


@pytest.mark.usefixtures("_broken")
def test_its_traceback_is_for_those_who_ask(capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LIVECHECK_TRACE", "1")
    assert main(["grade", "lesson.toml", "take.mid"]) == 2
    assert "Traceback" in capfd.readouterr().err


def test_every_command_says_what_it_is_for(capfd: pytest.CaptureFixture[str]) -> None:
    for command in COMMANDS:
        name = command.__name__.rpartition(".")[2]
        assert main([name, "--help"]) == 0
        assert f"livecheck {name}" in capfd.readouterr().out
    assert main(["--version"]) == 0
    assert capfd.readouterr().out == f"livecheck {livecheck.__version__}\n"
