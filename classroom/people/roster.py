"""Reading a class list: typed names, pasted lines, or a CSV file with column names.

Pure reading, no database. Takes a name, a class list id and a section, and nothing else: other
columns (addresses, birthdays, phone numbers …) are dropped unread. Also understands the column
names of OneRoster's users.csv (versions 1.1 and 1.2): sourcedId, givenName, familyName, their
preferred forms, role and status.
"""

from __future__ import annotations

import codecs
import csv
import io
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

from classroom.refusals import Refused
from classroom.wording.typed_lines import tidy

BYTES_MOST = 1_000_000
LINES_MOST = 5_000
NAME_LONGEST = 60
ID_LONGEST = 64
STUDENTS_MOST = 200
COLUMNS_MOST = 100

_COLUMNS = {
    "name": "name", "fullname": "name", "displayname": "name", "student": "name",
    "studentname": "name",
    "given": "given", "givenname": "given", "firstname": "given", "first": "given",
    "family": "family", "familyname": "family", "lastname": "family", "last": "family",
    "surname": "family",
    "preferredgivenname": "called", "preferredfirstname": "called", "preferredname": "called",
    "preferredfamilyname": "called_family", "preferredlastname": "called_family",
    "section": "section", "period": "section", "class": "section",
    "id": "id", "sourcedid": "id", "studentid": "id", "rosterid": "id", "classlistid": "id",
    "role": "role", "status": "status",
}  # fmt: skip
_IN_NAMES = set("'’‘.-‐·() ")  # the marks that stand in people's names


@dataclass(frozen=True, slots=True)
class RosterLine:
    """One student as the list gives them; `family` may be empty, `number` counts from 1."""

    number: int
    given: str
    family: str = ""
    roster_id: str = ""
    section: str = ""
    name: str = ""


@dataclass(frozen=True, slots=True)
class SkippedLine:
    number: int
    shown: str
    reason: str


@dataclass(slots=True)
class Roster:
    """What was read: students to look at, lines left out and why, remarks on the whole."""

    lines: list[RosterLine] = field(default_factory=list)
    skipped: list[SkippedLine] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)


class _Unusable(Exception):
    """Why one line is left out."""


def decode(data: bytes) -> str:
    """The text of an uploaded file; raises Refused for anything that is not text.

    UTF-8 with or without a byte order mark, UTF-16 with one, else Windows-1252, which is what
    spreadsheets on older school computers write.
    """
    if len(data) > BYTES_MOST:
        raise Refused("The file is larger than 1 MB. A class list is much smaller; check the file.")
    if data.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        raise Refused(
            "This is a spreadsheet or a zip file. In the spreadsheet choose “Save as” and CSV "
            "(comma separated); from a zip take users.csv out first."
        )
    if data.startswith(b"%PDF"):
        raise Refused("This is a PDF. Save the list as CSV, or copy the names and paste them.")
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        encodings = ["utf-16"]
    elif b"\x00" in data:
        encodings = []
    else:
        encodings = ["utf-8-sig", "cp1252"]
    for encoding in encodings:
        try:
            return data.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise Refused("This file is not text. Save the list as CSV, or paste the names instead.")


def read_roster(text: str, *, only_section: str = "", short_names: bool = True) -> Roster:
    """Read a pasted or uploaded list; raises Refused when the whole is unusable.

    `only_section` keeps the lines of one section. Names become first name and initial, or stay
    as they are where `short_names` is false. A line that cannot be used is in `skipped`.
    """
    rows = _rows(text)
    if not rows:
        raise Refused("There is no name in it. Type one name a line.")
    columns = _columns(rows[0][1])
    roster = Roster()
    if columns is None:
        found: Iterator[tuple[int, str, Mapping[str, str]]] = (
            (number, raw, {"name": raw}) for number, _, raw in rows
        )
        if only_section:
            roster.remarks.append(
                "The list has no section column, so all of its lines are shown here."
            )
    else:
        found = (
            (number, ", ".join(cells), dict(zip(columns, cells, strict=False)))
            for number, cells, _ in rows[1:]
        )
        is_oneroster = "sourcedid" in (cell.strip().casefold() for cell in rows[0][1])
        _remark_on_columns(columns, only_section, roster, needs_role=is_oneroster)
    ids: dict[str, int] = {}
    for number, raw, cells in found:
        try:
            line = _line(number, cells, only_section if "section" in (columns or []) else "")
            if line.roster_id in ids:
                raise _Unusable(f"The same id as line {ids[line.roster_id]}.")
        except _Unusable as reason:
            roster.skipped.append(SkippedLine(number, _cut(tidy(raw), 60), str(reason)))
            continue
        if line.roster_id:
            ids[line.roster_id] = number
        roster.lines.append(line)
    if len(roster.lines) > STUDENTS_MOST:
        raise Refused(
            f"The list has {len(roster.lines)} students; a course takes up to {STUDENTS_MOST}. "
            "Keep only the lines of this class, or say which section to take."
        )
    roster.lines = _named(roster.lines, short_names=short_names)
    return roster


def _rows(text: str) -> list[tuple[int, list[str], str]]:
    """(line number, cells, raw line) of each filled line; cells by the list's own separator."""
    lines = text.removeprefix("\ufeff").splitlines()
    if len(lines) > LINES_MOST:
        raise Refused(f"The list has {len(lines)} lines; up to {LINES_MOST} can be read.")
    first = next((line for line in lines if line.strip()), "")
    separator = max("\t;,", key=first.count)
    if separator not in first or _columns(first.split(separator)) is None:
        return [(n, [line], line) for n, line in enumerate(lines, start=1) if line.strip()]
    reader = csv.reader(io.StringIO("\n".join(lines)), delimiter=separator)
    rows, last = [], 0
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                rows.append((last + 1, cells, separator.join(cells)))
            last = reader.line_num
    except csv.Error as error:
        raise Refused(
            f"The file cannot be read past line {last + 1}: a quotation mark is not closed."
        ) from error
    return rows


def _columns(cells: list[str]) -> list[str] | None:
    """The meaning of each column ("" where unknown), or None when the line is no heading."""
    if len(cells) > COLUMNS_MOST:
        raise Refused(
            f"The first line has {len(cells)} columns; a class list has up to {COLUMNS_MOST}."
        )
    found = [
        _COLUMNS.get("".join(char for char in cell.casefold() if char.isalnum()), "")
        for cell in cells
    ]
    if not any(found):
        return None
    if not {"name", "given", "family", "called", "called_family"} & set(found):
        if len(cells) == 1:
            return None
        raise Refused(
            "The list has no column for names. Its first line must name the columns: “name”, or "
            "“givenName” and “familyName”; “id” and “section” where you have them."
        )
    # The first column of a meaning counts; a second one of the same meaning is dropped.
    return [mean if mean not in found[:at] else "" for at, mean in enumerate(found)]


def _remark_on_columns(
    columns: list[str], only_section: str, roster: Roster, *, needs_role: bool
) -> None:
    if needs_role and "role" not in columns:
        roster.remarks.append("The file says nobody's role: leave out whoever is no student.")
    if only_section and "section" not in columns:
        roster.remarks.append("The file has no section column, so all of its lines are shown here.")
    dropped = columns.count("")
    if dropped:
        what = "1 other column was" if dropped == 1 else f"{dropped} other columns were"
        roster.remarks.append(f"{what} dropped unread.")


def _line(number: int, cells: Mapping[str, str], only_section: str) -> RosterLine:
    # A tab inside a cell parts columns that have no heading, as a semicolon does.
    said = {key: tidy(cell.strip().replace("\t", ";")) for key, cell in cells.items() if key}
    role = said.get("role", "").casefold()
    if role and role != "student":
        raise _Unusable(f"The role is “{_cut(role, 20)}”, not student.")
    if said.get("status", "").casefold() == "tobedeleted":
        raise _Unusable("Marked as to be deleted.")
    section = said.get("section", "")
    if only_section and section.casefold() != tidy(only_section).casefold():
        raise _Unusable(f"Section “{_cut(section, 20)}”." if section else "No section given.")
    roster_id = said.get("id", "")
    if len(roster_id) > ID_LONGEST:
        raise _Unusable(f"The id is longer than {ID_LONGEST} characters.")
    if roster_id and roster_id[0] in "=+-@":
        raise _Unusable(f"The id begins with “{roster_id[0]}” like a spreadsheet formula.")
    given = said.get("called") or said.get("given", "")
    family = said.get("called_family") or said.get("family", "")
    if not given and not family:
        given, family = _apart(said.get("name", ""))
    for name in (given, family):
        _check_name(name)
    if not (given or family):
        raise _Unusable("No name in this line.")
    return RosterLine(number, given or family, family if given else "", roster_id, section)


def _apart(name: str) -> tuple[str, str]:
    """Given and family name of a whole one: “Wren Tidewell”, “Tidewell, Wren”."""
    name = name.strip('"')
    if any(mark in name for mark in ";\t") or name.count(",") > 1:
        raise _Unusable(
            "Several columns: put a first line above the list that names them (name, id, section)."
        )
    family, comma, given = (side.strip() for side in name.partition(","))
    if comma:
        return given, family
    first, _, rest = name.partition(" ")
    return first, rest


def _check_name(name: str) -> None:
    if len(name) > NAME_LONGEST:
        raise _Unusable(f"The name is longer than {NAME_LONGEST} characters.")
    if name and name[0] in "=+-@":
        raise _Unusable(f"Begins with “{name[0]}” like a spreadsheet formula, not like a name.")
    for char in name:
        usual = unicodedata.category(char)[0] in "LM" or char.isdigit() or char in _IN_NAMES
        if not usual:
            raise _Unusable(f"Has “{char}”, which names do not have.")
    if name and not any(unicodedata.category(char)[0] == "L" for char in name):
        raise _Unusable("Has no letter.")


def _named(lines: list[RosterLine], *, short_names: bool) -> list[RosterLine]:
    """The lines with the name under which each student is kept.

    Short: first name and initial; where two would be alike, up to three letters of the family
    name tell them apart.
    """
    if not short_names:
        return [
            replace(line, name=_cut(f"{line.given} {line.family}".strip(), 80)) for line in lines
        ]
    named = [replace(line, name=_short(line, 1)) for line in lines]
    for letters in (2, 3):
        alike: dict[str, set[str]] = {}
        for line in named:
            alike.setdefault(line.name.casefold(), set()).add(line.family.casefold())
        named = [
            replace(line, name=_short(line, letters))
            if len(alike[line.name.casefold()]) > 1
            else line
            for line in named
        ]
    return named


def _short(line: RosterLine, letters: int) -> str:
    # Of “van der Berg” the B is what people look for.
    last = line.family.split()[-1] if line.family else ""
    return f"{line.given} {last.strip('.')[:letters]}".strip()


def _cut(text: str, most: int) -> str:
    return text if len(text) <= most else text[: most - 1] + "…"
