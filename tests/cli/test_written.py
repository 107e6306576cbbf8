"""Files that a command writes."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from livecheck.cli.written import write_new
from livecheck.errors import Unusable


def test_on_a_disk_without_hard_links(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """FAT has none: link(2) fails there with EPERM."""

    def refuse(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", refuse)
    path = tmp_path / "page.html"
    write_new("--page", str(path), b"new", overwrite=False)
    assert path.read_bytes() == b"new"
    with pytest.raises(Unusable, match="is there already"):
        write_new("--page", str(path), b"newer", overwrite=False)
    assert path.read_bytes() == b"new"
    assert list(tmp_path.iterdir()) == [path]


def test_writing_over_a_link_writes_what_it_leads_to(tmp_path: Path) -> None:
    path, link = tmp_path / "page.html", tmp_path / "link.html"
    path.write_bytes(b"old")
    link.symlink_to(path)
    write_new("--page", str(link), b"new", overwrite=True)
    assert link.is_symlink()
    assert path.read_bytes() == b"new"
