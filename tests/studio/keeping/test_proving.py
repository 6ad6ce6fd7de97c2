"""A damaged backup is seen to be damaged, a hostile one is refused, and neither breaks anything."""

from __future__ import annotations

import os
import random
import sqlite3
import stat
import zipfile
from collections.abc import Callable
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection

from studio.keeping.container import opened
from studio.keeping.proving import prove
from studio.keeping.refusals import NotWhole, Unusable

from .tampering import Contents, put, tampered


def check(file: Path) -> tuple[int, str]:
    """The command's exit status and what it says on standard error."""
    said = StringIO()
    try:
        call_command("backup", str(file), "--check", stdout=StringIO(), stderr=said)
    except SystemExit as ended:
        return int(str(ended.code)), said.getvalue()
    return 0, said.getvalue()


def test_the_command_says_whole_damaged_or_unusable(any_backup: Path, tmp_path: Path) -> None:
    assert check(any_backup) == (0, "")
    torn = tmp_path / "torn.zip"
    torn.write_bytes(any_backup.read_bytes()[:-1000])
    status, said = check(torn)
    assert status == 1
    assert "damaged" in said
    essay = tmp_path / "essay.odt"
    essay.write_bytes(b"three weeks of work" * 99)
    status, said = check(essay)
    assert status == 2
    assert said.count("\n") == 1
    assert str(essay) in said


def test_a_backup_that_breaks_off_anywhere_is_damaged(any_backup: Path, tmp_path: Path) -> None:
    whole = any_backup.read_bytes()
    chance = random.Random(4)
    lengths = {1, 3, 4, 29, 30, 40, 60, len(whole) - 1, len(whole) - 64, len(whole) - 65}
    for length in sorted(lengths | {chance.randrange(1, len(whole)) for _ in range(60)}):
        torn = tmp_path / "torn.zip"
        torn.write_bytes(whole[:length])
        with pytest.raises(NotWhole):
            prove(torn)


def test_any_turned_bit_is_noticed(any_backup: Path, tmp_path: Path) -> None:
    whole = any_backup.read_bytes()
    chance = random.Random(5)
    places = {*range(0, 120, 3), *range(len(whole) - 90, len(whole), 3)}
    for place in sorted(places | {chance.randrange(len(whole)) for _ in range(120)}):
        turned = bytearray(whole)
        turned[place] ^= 1 << chance.randrange(8)
        file = tmp_path / "turned.zip"
        file.write_bytes(turned)
        with pytest.raises(NotWhole):
            prove(file)


def test_the_damaged_content_is_named(any_backup: Path, tmp_path: Path) -> None:
    with zipfile.ZipFile(any_backup) as archive:
        info = next(one for one in archive.infolist() if one.filename.startswith("evidence/wait"))
    turned = bytearray(any_backup.read_bytes())
    turned[info.header_offset + 30 + len(info.filename) + len(info.extra) + 25] ^= 255
    file = tmp_path / "turned.zip"
    file.write_bytes(turned)
    with pytest.raises(NotWhole, match=info.filename):
        prove(file)


def test_bytes_behind_the_end_are_noticed(any_backup: Path, tmp_path: Path) -> None:
    longer = tmp_path / "longer.zip"
    longer.write_bytes(any_backup.read_bytes() + b"\0" * 10)
    with pytest.raises(NotWhole):
        prove(longer)


def test_what_is_no_backup_is_unusable(tmp_path: Path, settings: Any) -> None:
    settings.VAR_DIR = tmp_path
    other = tmp_path / "other.zip"
    with zipfile.ZipFile(other, "w") as archive:
        archive.writestr("manifest.json", '{"name": "another program"}')
    strange = {
        "empty": b"",
        "text": b"Dear teacher",
        "picture": b"\x89PNG\r\n\x1a\n" + bytes(500),
        "database": b"SQLite format 3\0" + bytes(5000),
        "zip end": b"PK\x05\x06" + bytes(18),
    }
    files = [other]
    for name, data in strange.items():
        files.append(tmp_path / name)
        files[-1].write_bytes(data)
    for file in [*files, tmp_path, tmp_path / "not there"]:
        with pytest.raises(Unusable, match=str(file)):
            prove(file)


def test_random_bytes_never_end_in_a_traceback(tmp_path: Path, settings: Any) -> None:
    settings.VAR_DIR = tmp_path
    chance = random.Random(6)
    for number in range(200):
        file = tmp_path / "random"
        head = b"PK\x03\x04" if number % 2 else b""
        file.write_bytes(head + chance.randbytes(chance.randrange(1, 3000)))
        with pytest.raises((Unusable, NotWhole)):
            prove(file)


def test_a_pipe_is_not_waited_for(tmp_path: Path, settings: Any) -> None:
    settings.VAR_DIR = tmp_path
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    with pytest.raises(Unusable):
        prove(pipe)


@pytest.mark.parametrize(
    "path",
    [
        "../../outside",
        "/etc/outside",
        "patterns/../../outside",
        "patterns//x",
        "..\\outside",
        "C:outside",
        "a\0b",
        "a" * 300,
        "",
        "dot./x",
        7,
    ],
)
def test_a_file_that_leads_out_of_its_folder_is_refused(
    any_backup: Path, tmp_path: Path, path: object
) -> None:
    def change(manifest: dict[str, Any], contents: Contents) -> None:
        member = next(one for one in manifest["members"] if "path" in one)
        member["path"] = path

    hostile = tampered(any_backup, tmp_path / "hostile.zip", change)
    with pytest.raises((Unusable, NotWhole)):
        prove(hostile)


def _version(manifest: dict[str, Any], contents: Contents) -> None:
    manifest["version"] = 2


def _size(manifest: dict[str, Any], contents: Contents) -> None:
    manifest["members"][0]["size"] = -1


def _huge(manifest: dict[str, Any], contents: Contents) -> None:
    manifest["members"][0]["size"] = 2**62


def _twice(manifest: dict[str, Any], contents: Contents) -> None:
    manifest["members"].append(manifest["members"][0])


def _no_key(manifest: dict[str, Any], contents: Contents) -> None:
    manifest["members"] = [one for one in manifest["members"] if one["name"] != "secret_key"]


def _long_key(manifest: dict[str, Any], contents: Contents) -> None:
    put(manifest, contents, "secret_key", b"k" * 10_000)


def _no_members(manifest: dict[str, Any], contents: Contents) -> None:
    del manifest["members"]


def _odd_kind(manifest: dict[str, Any], contents: Contents) -> None:
    manifest["database"]["kind"] = "spreadsheet"


def _odd_table(manifest: dict[str, Any], contents: Contents) -> None:
    manifest["database"]["tables"]['x"; DROP TABLE y; --'] = 1


@pytest.mark.parametrize(
    "change",
    [_version, _size, _huge, _twice, _no_key, _long_key, _no_members, _odd_kind, _odd_table],
)
def test_an_odd_table_of_contents_is_refused(
    any_backup: Path, tmp_path: Path, change: Callable[[dict[str, Any], Contents], None]
) -> None:
    with pytest.raises(Unusable):
        prove(tampered(any_backup, tmp_path / "odd.zip", change))


def test_a_backup_of_a_later_format_is_refused_with_what_to_do(
    any_backup: Path, tmp_path: Path
) -> None:
    with pytest.raises(Unusable, match="newer version"):
        prove(tampered(any_backup, tmp_path / "later.zip", _version))


def test_a_content_that_is_longer_than_it_says_is_not_unpacked(
    any_backup: Path, tmp_path: Path
) -> None:
    def change(manifest: dict[str, Any], contents: Contents) -> None:
        name = next(one["name"] for one in manifest["members"] if "path" in one)
        contents[name] = b"0" * 5_000_000

    with pytest.raises(NotWhole):
        prove(tampered(any_backup, tmp_path / "bomb.zip", change))


def test_a_link_in_a_backup_is_refused(any_backup: Path, tmp_path: Path) -> None:
    hostile = tampered(any_backup, tmp_path / "link.zip", lambda manifest, contents: None)
    with zipfile.ZipFile(hostile) as archive:
        infos = {info.filename: info for info in archive.infolist()}
    data = hostile.read_bytes()
    name = next(name for name in infos if name.startswith("evidence/"))
    # In the central directory the mode stands eight bytes before the name ends its fixed part.
    at = data.rindex(name.encode()) - 8
    linked = bytearray(data)
    linked[at : at + 4] = ((stat.S_IFLNK | 0o777) << 16).to_bytes(4, "little")
    hostile.write_bytes(linked)
    import hashlib

    body = bytes(linked[:-64])
    hostile.write_bytes(body + hashlib.sha256(body).hexdigest().encode())
    with pytest.raises(NotWhole, match="not what the table of contents says"):
        prove(hostile)


def test_rows_that_are_missing_are_noticed(any_backup: Path, tmp_path: Path) -> None:
    def change(manifest: dict[str, Any], contents: Contents) -> None:
        manifest["database"]["tables"]["classroom_user"] += 1

    with pytest.raises(NotWhole, match=r"6 rows in classroom_user; 7 were kept"):
        prove(tampered(any_backup, tmp_path / "fewer.zip", change))


def _changed_database(
    any_backup: Path, tmp_path: Path, change: Callable[[Path], None], name: str = "changed.zip"
) -> Path:
    def put_changed(manifest: dict[str, Any], contents: Contents) -> None:
        file = tmp_path / "changed.sqlite3"
        file.write_bytes(contents["database.sqlite3"])
        change(file)
        put(manifest, contents, "database.sqlite3", file.read_bytes())

    return tampered(any_backup, tmp_path / name, put_changed)


def test_a_file_that_a_row_names_must_be_there(any_backup: Path, tmp_path: Path) -> None:
    if connection.vendor != "sqlite":
        return  # a dump is not asked; it was when the backup was made

    def change(manifest: dict[str, Any], contents: Contents) -> None:
        gone = next(one for one in manifest["members"] if one.get("path", "").endswith(".svg"))
        manifest["members"].remove(gone)
        del contents[gone["name"]]

    with pytest.raises(NotWhole, match=r"patterns/.*\.svg is named in its database"):
        prove(tampered(any_backup, tmp_path / "without.zip", change))


def test_a_database_that_is_damaged_inside_is_noticed(any_backup: Path, tmp_path: Path) -> None:
    if connection.vendor != "sqlite":
        return  # pg_restore reads the dump; see the test of turned bits

    def spoil(file: Path) -> None:
        data = bytearray(file.read_bytes())
        data[4096 * 40 : 4096 * 60] = b"\xa5" * 4096 * 20
        file.write_bytes(data)

    with pytest.raises(NotWhole, match="database in it"):
        prove(_changed_database(any_backup, tmp_path, spoil))


def test_a_database_that_brings_its_own_deeds_is_refused(any_backup: Path, tmp_path: Path) -> None:
    if connection.vendor != "sqlite":
        return  # only SQLite's file carries them unseen

    def trigger(file: Path) -> None:
        with sqlite3.connect(file) as copy:
            copy.execute(
                "CREATE TRIGGER t AFTER INSERT ON classroom_user "
                "BEGIN DELETE FROM classroom_user; END"
            )
        copy.close()

    with pytest.raises(NotWhole, match="triggers"):
        prove(_changed_database(any_backup, tmp_path, trigger))


def test_proving_leaves_nothing_behind(any_backup: Path, settings: Any) -> None:
    prove(any_backup)
    assert list(settings.VAR_DIR.iterdir()) == []
    with opened(any_backup) as one:
        assert one.manifest.database.size > 1000
