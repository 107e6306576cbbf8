"""The layers hold: what may import what is checked with every run of the tests, and the check can fail."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
CHECK = "from importlinter.cli import lint_imports; raise SystemExit(lint_imports(cache_dir=None))"


def check(folder: Path) -> subprocess.CompletedProcess[str]:
    call = [sys.executable, "-c", CHECK]
    return subprocess.run(call, cwd=folder, capture_output=True, encoding="utf-8", timeout=120, check=False)


def test_imports_go_one_way() -> None:
    result = check(ROOT)
    assert result.returncode == 0, result.stdout + result.stderr


@pytest.mark.parametrize(
    ("module", "line"),
    [
        ("lesson/beat.py", "import livecheck.hearing.sound.ear"),
        ("hearing/sound/ear.py", "import livecheck.judging.verdicts.judge"),
        ("hearing/sound/onset.py", "import livecheck.hearing.scene"),
        ("judging/places/follow.py", "import livecheck.judging.meanwhile.so_far"),
        ("judging/verdicts/judge.py", "import threading"),
        ("hearing/sound/ear.py", "import soundfile"),
        ("reports/document.py", "import livecheck.sources.library"),
    ],
)
def test_an_import_the_other_way_is_found(tmp_path: Path, module: str, line: str) -> None:
    shutil.copytree(ROOT / "livecheck", tmp_path / "livecheck", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    with (tmp_path / "livecheck" / module).open("a", encoding="utf-8") as file:
        file.write(f"\n{line}\n")
    result = check(tmp_path)
    assert result.returncode == 1, result.stdout + result.stderr
    assert "BROKEN" in result.stdout
