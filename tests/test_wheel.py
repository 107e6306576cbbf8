"""The wheel works by itself: built, installed in a new environment, called from another folder.

No network: the dependencies of the environment that runs the tests are lent to the new one by a path file.
"""

from __future__ import annotations

import os
import subprocess
import sys
import sysconfig
import venv
import zipfile
from collections.abc import Sequence
from pathlib import Path

import pytest

from tests.lesson.written import lesson_text

ROOT = Path(__file__).parents[1]
PIP = [sys.executable, "-m", "pip", "--disable-pip-version-check", "--quiet"]


def run(call: Sequence[str | Path], folder: Path) -> subprocess.CompletedProcess[str]:
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    return subprocess.run(
        call, cwd=folder, env=environment, capture_output=True, encoding="utf-8", timeout=120, check=False
    )


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    built = run([*PIP, "wheel", "--no-deps", "--no-build-isolation", "--wheel-dir", folder, ROOT], folder)
    assert built.returncode == 0, built.stdout + built.stderr
    (path,) = folder.glob("livecheck-*.whl")
    return path


@pytest.fixture(scope="module")
def scripts(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of the programs of a new environment with the wheel in it."""
    home = tmp_path_factory.mktemp("installed")
    venv.create(home, with_pip=False, symlinks=os.name != "nt")
    paths = sysconfig.get_paths("venv", vars={"base": str(home), "platbase": str(home)})
    lent = dict.fromkeys(sysconfig.get_paths()[kind] for kind in ("purelib", "platlib"))
    Path(paths["purelib"], "lent.pth").write_text("\n".join(lent) + "\n", encoding="utf-8")
    python = Path(paths["scripts"], Path(sys.executable).name)
    installed = run([*PIP, "--python", python, "install", "--no-deps", "--no-index", wheel], home)
    assert installed.returncode == 0, installed.stdout + installed.stderr
    return python.parent


def test_the_wheel_carries_every_file_of_the_package_and_of_configs(wheel: Path) -> None:
    files = [path.relative_to(ROOT) for folder in ("livecheck", "configs") for path in (ROOT / folder).rglob("*.*")]
    paths = [path.as_posix() for path in files if "__pycache__" not in path.parts and (ROOT / path).is_file()]
    wanted = {f"livecheck/{path}" if path.startswith("configs/") else path for path in paths}
    assert {"livecheck/cli/main.py", "livecheck/configs/copedents/e9-ten-string.toml"} <= wanted
    with zipfile.ZipFile(wheel) as archive:
        names = set(archive.namelist())
    assert sorted(wanted - names) == []
    assert sorted(name for name in names if "test" in name or "__pycache__" in name) == []


def test_the_licence_comes_along(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        (licence,) = [name for name in archive.namelist() if name.endswith("licenses/LICENSE")]
        assert "GNU GENERAL PUBLIC LICENSE" in archive.read(licence).decode()


def test_the_program_runs_from_another_folder(scripts: Path, tmp_path: Path) -> None:
    told = run([scripts / "python", "-c", "import livecheck; print(livecheck.__file__)"], tmp_path)
    assert Path(told.stdout.strip()).is_relative_to(scripts.parent)
    result = run([scripts / "livecheck", "--help"], tmp_path)
    assert (result.returncode, result.stderr) == (0, "")
    assert "grade" in result.stdout


def test_a_lesson_finds_its_copedent_in_the_wheel(scripts: Path, tmp_path: Path) -> None:
    (tmp_path / "porch.toml").write_text(lesson_text("beat = 1, fret = 3, pick = [5, 6]"), encoding="utf-8")
    result = run([scripts / "livecheck", "show", "porch.toml"], tmp_path)
    assert (result.returncode, result.stderr) == (0, "")
    assert "3" in result.stdout


def test_the_demo_runs_from_the_wheel(scripts: Path, tmp_path: Path) -> None:
    result = run([scripts / "livecheck", "demo"], tmp_path)
    told = dict(line.split(": ", 1) for line in result.stdout.splitlines() if ": " in line)
    for what in ("The lesson", "The take"):
        assert Path(told[what]).is_file()
        assert Path(told[what]).is_relative_to(scripts.parent)
    assert result.stdout.endswith("\n8 mistakes were planted, 8 were found, nothing else.\n")
    assert (result.returncode, result.stderr) == (0, "")
