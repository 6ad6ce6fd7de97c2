"""A school whose whole disk fills up while it is open: told in words, nothing half-saved."""

from __future__ import annotations

import contextlib
import shutil
import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.urls import reverse

from tests.running.filling import School
from tests.running.house import House, house, wait_for
from tests.running.looking import number
from tests.running.visiting import Answer, Visitor
from tests.small_disk import small_disk_in

pytestmark = pytest.mark.slow

# Padded, so that it does not fit into the last bytes of a full disk.
OUTLINE = (
    b'<svg xmlns="http://www.w3.org/2000/svg" width="150mm" height="100mm" viewBox="0 0 150 100">'
    b'<path d="M10 10 H128 V52 H61 V106 H10 Z"/>' + b" " * 300_000 + b"</svg>"
)


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    with small_disk_in(tmp_path, "48m") as folder:
        yield folder


@pytest.fixture
def full_school(
    filled: tuple[Path, School], small_disk: Path, tmp_path: Path
) -> Iterator[tuple[House, School]]:
    """Open, on a disk that is not full yet; only the log of this test lies elsewhere."""
    template, school = filled
    var = small_disk / "var"
    shutil.copytree(template, var)
    (tmp_path / "server.log").touch()
    with house(var, BENCHLEDGER_BACKUP="0") as one:
        one.log.unlink(missing_ok=True)
        one.log.symlink_to(tmp_path / "server.log")
        one.open()
        yield one, school


def fill_up(folder: Path) -> Path:
    full = folder / "full"
    for size in (1024 * 1024, 4096):
        with contextlib.suppress(OSError), full.open("ab", buffering=0) as file:
            while file.write(bytes(size)) == size:
                pass
    return full


def kept(one: House) -> list[str]:
    """Uploaded files, and whatever was left half-written among them."""
    folder = one.var / "evidence"
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())


def counts(one: House) -> dict[str, int]:
    tables = ("studio_errand", "studio_uploadtally", "inventory_stockpiece", "classroom_history")
    return {table: number(one, f"SELECT COUNT(*) FROM {table}") for table in tables}


def test_an_upload_to_a_full_school_is_refused_in_words_and_works_when_there_is_room(
    full_school: tuple[House, School], small_disk: Path
) -> None:
    one, school = full_school
    metal = number(one, "SELECT MIN(id) FROM inventory_metal")
    form = {
        "metal": str(metal),
        "cost": "4.90",
        "place": "top drawer",
        "reason": "traced",
        "once": str(uuid.uuid4()),
    }
    with Visitor(one, school.session) as teacher:

        def send() -> Answer:
            return teacher.upload(reverse("offcut_from_svg"), form, "offcut.svg", OUTLINE)

        assert teacher.get(reverse("offcut_from_svg")).status == 200
        workers, files, rows = one.workers(), kept(one), counts(one)
        full = fill_up(small_disk)

        refused = send()
        assert refused.status == 507, refused.body[-2000:]
        assert b"disk is full" in refused.body
        assert kept(one) == files
        assert counts(one) == rows
        assert teacher.get(reverse("rack")).status == 200  # what was saved is there to be read

        full.unlink()
        wait_for(one.is_well)
        answer = send()
        assert answer.status == 302, answer.body[-2000:]
        wait_for(lambda: counts(one)["inventory_stockpiece"] == rows["inventory_stockpiece"] + 1)
        assert one.workers() == workers
        wait_for(lambda: kept(one) == files)  # what was read is not kept
    proved = one.manage("audit_stock")
    assert proved.returncode == 0, proved.stdout + proved.stderr
    assert one.end() == 0
