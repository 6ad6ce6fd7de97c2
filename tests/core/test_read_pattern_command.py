"""`manage.py read_pattern`: its format and exit status.

The form stands in studio/core/reading/README.md, "What read_pattern prints".
"""

from __future__ import annotations

import io
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from shapely import wkt

from studio.core.drawing import Drawing

ROOT = Path(__file__).resolve().parents[2]
DRAWING = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="40mm" viewBox="0 0 60 40">'
    '<g fill="none" stroke="black"><rect x="5" y="5" width="40" height="30"/>'
    '<rect x="10" y="10" width="10" height="20"/><rect x="21" y="10" width="10" height="20"/>'
    '<circle cx="40" cy="8" r="0.8"/><path d="M34 20h8"/></g></svg>'
)


@pytest.fixture
def pattern(tmp_path: Path) -> Path:
    path = tmp_path / "pattern.svg"
    path.write_text(DRAWING, encoding="utf-8")
    return path


def answer(*args: str) -> dict[str, Any]:
    out = io.StringIO()
    call_command("read_pattern", *args, stdout=out)
    result: dict[str, Any] = json.loads(out.getvalue())
    return result


def test_the_answer_has_the_agreed_form(pattern: Path) -> None:
    result = answer(str(pattern))
    assert list(result) == ["version", "source", "pieces", "findings", "tolerance_mm"]
    assert result["version"] == 1
    assert result["source"] == {"kind": "svg", "units": "mm", "scale_from": "file"}
    assert result["tolerance_mm"] == 0.02
    (piece,) = result["pieces"]
    assert list(piece) == ["id", "outline", "drill_marks", "surface_lines"]
    outline = wkt.loads(piece["outline"])
    assert outline.is_valid
    assert outline.bounds == (5, 5, 45, 35)
    assert outline.area == pytest.approx(40 * 30 - 2 * 200)
    assert piece["drill_marks"] == [
        {"x_mm": 40.0, "y_mm": 32.0, "diameter_mm": 1.6, "kind": "ring"}
    ]
    assert [wkt.loads(line).length for line in piece["surface_lines"]] == [8]
    bridge = result["findings"][0]
    assert list(bridge) == [
        "code", "weight", "piece", "at", "value_mm", "limit_mm", "message", "mend",
    ]  # fmt: skip
    assert (bridge["code"], bridge["weight"], bridge["piece"]) == ("bridge-thin", "stop", "1")
    assert (bridge["at"], bridge["value_mm"], bridge["limit_mm"]) == ([20.5, 20.0], 1.0, 2.0)


def test_the_pieces_are_the_drawing_the_app_stores(pattern: Path) -> None:
    pieces = answer(str(pattern))["pieces"]
    assert Drawing.from_json(pieces).to_json() == pieces


def test_width_and_resolution_options(pattern: Path) -> None:
    wide = answer(str(pattern), "--width-mm", "80")
    assert wide["source"]["scale_from"] == "option"
    assert wkt.loads(wide["pieces"][0]["outline"]).bounds[2] == pytest.approx(90)
    pattern.write_text(DRAWING.replace("60mm", "60").replace("40mm", "40"))
    coarse = answer(str(pattern), "--dpi", "25.4", "--frame", "A4")
    assert coarse["source"]["scale_from"] == "resolution"
    assert wkt.loads(coarse["pieces"][0]["outline"]).bounds == pytest.approx((5, 5, 45, 35))


def test_out_writes_the_same_answer_to_a_file(pattern: Path, tmp_path: Path) -> None:
    out = tmp_path / "answer.json"
    silent = io.StringIO()
    call_command("read_pattern", str(pattern), "--out", str(out), stdout=silent)
    assert silent.getvalue() == ""
    assert json.loads(out.read_text(encoding="utf-8")) == answer(str(pattern))


def test_findings_of_reading_assembly_and_check_come_together(pattern: Path) -> None:
    body = DRAWING.replace("</g>", '<path d="M50 5h5v5"/></g><text>Gull</text>')
    pattern.write_text(body, encoding="utf-8")
    codes = [each["code"] for each in answer(str(pattern))["findings"]]
    assert codes[:3] == ["text-unread", "line-open", "bridge-thin"]


@pytest.mark.parametrize(
    "args",
    [
        ["gone.svg"],
        ["."],
        ["empty.svg"],
        ["photo.png"],
        ["bomb.svg"],
        ["pattern.svg", "--width-mm", "wide"],
        ["pattern.svg", "--width-mm", "nan"],
        ["pattern.svg", "--width-mm", "-4"],
        ["pattern.svg", "--dpi", "1e400"],
        ["pattern.svg", "--unknown"],
        ["pattern.svg", "--out", "no/such/folder/x.json"],
        ["pattern.svg", "--out", "."],
        ["a\x00b.svg"],
        [],
    ],
)
def test_unusable_input_ends_with_status_two_and_one_line(
    args: list[str],
    pattern: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    (tmp_path / "empty.svg").write_bytes(b"")
    (tmp_path / "photo.png").write_bytes(b"\x89PNG\r\n\x1a\n")
    (tmp_path / "bomb.svg").write_text('<!DOCTYPE svg [<!ENTITY a "b">]><svg>&a;</svg>')
    monkeypatch.chdir(tmp_path)
    from studio.management.commands.read_pattern import Command

    with pytest.raises(SystemExit) as ended:
        Command().run_from_argv(["manage.py", "read_pattern", *args])
    assert ended.value.code == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert captured.err.count("\n") == 1
    assert len(captured.err) > 20


def test_a_file_that_may_not_be_read_is_refused(
    pattern: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def forbidden(self: Path, *args: Any, **kwargs: Any) -> Any:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", forbidden)
    with pytest.raises(SystemExit) as ended:
        call_command("read_pattern", str(pattern))
    assert ended.value.code == 2
    assert "may not read" in capsys.readouterr().err


def test_the_command_runs_from_the_shell_without_a_database(pattern: Path, tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "manage.py", "read_pattern", str(pattern)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
        env={"PATH": "/usr/bin:/bin", "DATABASE_URL": f"sqlite:///{tmp_path}/no/such/db.sqlite3"},
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert json.loads(done.stdout)["version"] == 1


def test_a_dxf_is_read_too_and_its_scale_may_be_given(tmp_path: Path) -> None:
    corners = [(0, 0), (30, 0), (30, 20), (0, 20)]
    groups = [value for x, y in corners for value in (10, x, 20, y)]
    polyline = [0, "LWPOLYLINE", 90, 4, 70, 1, *groups]
    text = [0, "SECTION", 2, "ENTITIES", *polyline, 0, "ENDSEC", 0, "EOF"]
    path = tmp_path / "tag.dxf"
    path.write_text("\n".join(map(str, text)))
    result = answer(str(path))
    assert result["source"] == {"kind": "dxf", "units": "none", "scale_from": "file"}
    assert wkt.loads(result["pieces"][0]["outline"]).area == pytest.approx(600)
    assert "scale-assumed" in [finding["code"] for finding in result["findings"]]
    wider = answer(str(path), "--width-mm", "60")
    assert wider["source"]["scale_from"] == "option"
    assert wkt.loads(wider["pieces"][0]["outline"]).area == pytest.approx(2400)
    assert "scale-assumed" not in [finding["code"] for finding in wider["findings"]]
