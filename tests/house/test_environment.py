"""What `manage.py` says on a machine that lacks something."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from studio.config import environment


def test_missing_pdf_libraries_are_named_with_the_command_that_installs_them(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(environment.ctypes.util, "find_library", lambda _: None)
    monkeypatch.setattr(environment.sys, "platform", "linux")
    assert "apt-get install libpango-1.0-0" in environment.missing_pdf_libraries()
    monkeypatch.setattr(environment.sys, "platform", "darwin")
    assert "brew install pango" in environment.missing_pdf_libraries()


def test_nothing_is_said_where_the_libraries_are(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(environment.ctypes.util, "find_library", lambda name: f"lib{name}.so")
    assert environment.missing_pdf_libraries() == ""


def test_a_python_without_venv_ends_with_one_sentence(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: Any
) -> None:
    monkeypatch.setattr(environment, "HOME", tmp_path / ".venv")
    monkeypatch.setattr(environment, "_venv_works", lambda: False)
    with pytest.raises(SystemExit) as ended:
        environment._make_environment()
    assert ended.value.code == 2
    said = capsys.readouterr().err.strip()
    assert "apt-get install python3-venv" in said
    assert "\n" not in said


def test_a_python_too_old_or_too_new_ends_with_one_sentence(
    monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    monkeypatch.delenv("BENCHLEDGER_PREPARE", raising=False)
    monkeypatch.setattr(environment, "LEAST", (3, 99))
    with pytest.raises(SystemExit) as ended:
        environment.prepare(["manage.py", "serve"])
    assert ended.value.code == 2
    assert "Python 3.11 to 3.13" in capsys.readouterr().err


def test_changed_requirements_are_noticed(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    wanted = tmp_path / "requirements.txt"
    wanted.write_text("one==1\n")
    monkeypatch.setattr(environment, "HOME", tmp_path)
    assert not environment._has(wanted)
    environment._stamp(wanted).write_text(environment._hash(wanted))
    assert environment._has(wanted)
    wanted.write_text("one==2\n")
    assert not environment._has(wanted)
