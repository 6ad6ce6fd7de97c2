"""Static files as a browser gets them: named by content, kept for good, compressed."""

from __future__ import annotations

import gzip
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.contrib.staticfiles.storage import staticfiles_storage
from django.http import HttpResponse
from django.test import Client

from tests.people import Cast

from .collecting import collect, collected_into

pytestmark = pytest.mark.django_db  # all: those without would come later, and collect once more
YEAR_S = 365 * 24 * 3600


@pytest.fixture(scope="module")
def collected(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """One for all tests here: collecting takes a second or two, and they leave it as it was."""
    folder = tmp_path_factory.mktemp("collected")
    with collected_into(folder):
        yield folder


@pytest.fixture
def few(tmp_path: Path) -> Iterator[Path]:
    """A sheet and a module that import one another each, and nothing else, collected."""
    sources = tmp_path / "sources"
    for name, text in {
        "css/screen.css": '@import url("base.css");\n',
        "css/base.css": "body { color: black; }\n",
        "js/house.js": 'import "./confirm.js";\n',
        "js/confirm.js": "document.title = 'sure?';\n",
    }.items():
        (sources / name).parent.mkdir(parents=True, exist_ok=True)
        (sources / name).write_text(text, encoding="utf-8")
    folder = tmp_path / "static"
    with collected_into(folder, sources=sources):
        yield folder


def fetched(address: str, **headers: str) -> tuple[HttpResponse, bytes]:
    answer = Client().get(address, headers=headers)
    content = b"".join(answer)
    answer.close()
    return answer, content


def static_addresses(html: str) -> list[str]:
    return re.findall(r'(?:src|href)="(/static/[^"]+)"', html)


def test_what_the_sign_in_page_names_is_kept_for_good(cast: Cast, collected: Path) -> None:
    addresses = set(static_addresses(fetched("/sign-in/")[1].decode()))
    assert {address.partition(".")[0] for address in addresses} == {
        "/static/css/screen",
        "/static/js/house",
        "/static/django_htmx/htmx-2",
        "/static/img/logo",
    }
    for address in addresses:
        assert re.search(r"\.[0-9a-f]{12}\.\w+$", address), address
        answer, _ = fetched(address)
        assert answer.status_code == 200
        kept = answer["Cache-Control"]
        assert "immutable" in kept
        assert "public" in kept
        age = re.search(r"max-age=(\d+)", kept)
        assert age
        assert int(age[1]) >= YEAR_S


@pytest.mark.parametrize("name", ["css/screen.css", "js/house.js", "js/correcting/page.js"])
def test_a_joined_file_goes_out_compressed_and_whole(collected: Path, name: str) -> None:
    address = staticfiles_storage.url(name)
    _, plain = fetched(address)
    packed, sent = fetched(address, **{"accept-encoding": "gzip"})
    assert packed["Content-Encoding"] == "gzip"
    assert "Accept-Encoding" in packed["Vary"]
    assert len(sent) < len(plain) / 2
    assert gzip.decompress(sent) == plain
    assert b"@import" not in re.sub(rb"/\*.*?\*/", b"", plain, flags=re.S)
    assert not re.search(rb"^import\b", plain, re.M)


def test_an_address_without_the_content_in_its_name_is_not_kept_for_good(collected: Path) -> None:
    answer, _ = fetched("/static/css/screen.css")
    assert "immutable" not in answer["Cache-Control"]


def test_the_collected_sheet_names_pictures_that_exist(collected: Path) -> None:
    sheet = collected / staticfiles_storage.stored_name("css/screen.css")
    for address in re.findall(r'url\("([^"#:]+)"\)', sheet.read_text()):
        assert (sheet.parent / address).resolve().is_file(), address


def test_a_changed_sheet_changes_the_name_of_what_holds_it_and_of_nothing_else(
    tmp_path: Path, settings: Any
) -> None:
    settings.WHITENOISE_SKIP_COMPRESS_EXTENSIONS = ["css", "js", "svg"]  # names are looked at
    sources = tmp_path / "sources"
    shutil.copytree(settings.BASE_DIR / "static", sources)
    with collected_into(tmp_path / "static", sources=sources):
        before = {name: staticfiles_storage.stored_name(name) for name in _names(sources)}
        with (sources / "css" / "plans.css").open("a") as sheet:
            sheet.write(".plan-changed { color: red; }\n")
        with (sources / "js" / "picture_view.js").open("a") as module:
            module.write("// changed\n")
        collect()
        after = {name: staticfiles_storage.stored_name(name) for name in _names(sources)}
        changed = {name for name in before if before[name] != after[name]}
        assert changed == {
            "css/plans.css",
            "css/screen.css",
            "js/picture_view.js",
            "js/building/view.js",
            "js/building/page.js",
            "js/correcting/hand.js",
            "js/correcting/page.js",
            "js/layouts/doing/hand.js",
            "js/layouts/page.js",
            "js/layouts/parting/parting.js",
        }
        screen = (tmp_path / "static" / after["css/screen.css"]).read_text()
        assert ".plan-changed" in screen
        # Who opened a page before the change still gets what that page names.
        assert (tmp_path / "static" / before["css/screen.css"]).is_file()


def _names(folder: Path) -> list[str]:
    return [path.relative_to(folder).as_posix() for path in folder.rglob("*.*")]


def test_collecting_the_same_sources_again_touches_nothing(collected: Path) -> None:
    def state() -> dict[str, tuple[int, int]]:
        return {
            str(path): (path.stat().st_mtime_ns, path.stat().st_ino)
            for path in collected.rglob("*")
            if path.is_file()
        }

    before = state()
    assert before
    collect()
    assert state() == before


@pytest.mark.parametrize("lost", ["css/screen.css", "js/house.js"])
def test_a_collected_file_that_was_lost_is_made_again(few: Path, lost: str) -> None:
    path = few / staticfiles_storage.stored_name(lost)
    content = path.read_bytes()
    path.unlink()
    collect()
    assert path.read_bytes() == content


def test_collecting_that_broke_off_is_not_taken_for_finished(
    few: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from studio.static_files.storage import SOURCES_NAME, JoinedStaticFilesStorage

    (few / SOURCES_NAME).write_text("of other sources")

    def breaks(self: object) -> None:
        raise OSError("no space left")

    with monkeypatch.context() as broken:
        broken.setattr(JoinedStaticFilesStorage, "save_manifest", breaks)
        with pytest.raises(OSError, match="no space"):
            collect()
    assert not (few / SOURCES_NAME).exists()
    collect()
    assert (few / SOURCES_NAME).exists()


@pytest.mark.slow
def test_static_files_may_lie_elsewhere(tmp_path: Path) -> None:
    """`BENCHLEDGER_STATIC` names the folder; nothing of them is left in `var/` then."""
    elsewhere = tmp_path / "elsewhere"
    subprocess.run(
        [sys.executable, "manage.py", "collectstatic", "--noinput", "--verbosity", "0"],
        cwd=settings.BASE_DIR,
        env={
            **os.environ,
            "BENCHLEDGER_PREPARE": "0",
            "BENCHLEDGER_VAR": str(tmp_path / "var"),
            "BENCHLEDGER_STATIC": str(elsewhere),
            "DJANGO_SETTINGS_MODULE": "studio.config.settings",
        },
        check=True,
        timeout=300,
    )
    assert list(elsewhere.glob("css/screen.*.css"))
    assert (elsewhere / "staticfiles.json").is_file()
    assert not (tmp_path / "var" / "static").exists()
