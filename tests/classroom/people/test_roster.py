"""Reading class lists: typed, pasted, CSV, OneRoster column names, and hostile files."""

from __future__ import annotations

import pytest

from classroom.people.roster import decode, read_roster
from classroom.refusals import Refused

# Column names of users.csv in OneRoster 1.1 and 1.2 (1EdTech), as several open implementations
# have them; the specification's own text was not seen.
USERS_1_1 = (
    "sourcedId,status,dateLastModified,enabledUser,orgSourcedIds,role,username,userIds,givenName,"
    "familyName,middleName,identifier,email,sms,phone,agentSourcedIds,grades,password\n"
)
USERS_1_2 = (
    "sourcedId,status,dateLastModified,enabledUser,username,userIds,givenName,familyName,"
    "middleName,identifier,email,sms,phone,agentSourcedIds,grades,password,userMasterIdentifier,"
    "preferredGivenName,preferredMiddleName,preferredFamilyName,primaryOrgSourcedId,pronouns\n"
)


def names(text: str, **how: object) -> list[str]:
    return [line.name for line in read_roster(text, **how).lines]  # type: ignore[arg-type]


def reasons(text: str, **how: object) -> list[str]:
    return [line.reason for line in read_roster(text, **how).skipped]  # type: ignore[arg-type]


def test_typed_names_become_first_name_and_initial() -> None:
    assert names("Wren Tidewell\nFathom, Odd\n\n  Una  \nJan van der Berg\nBo K.") == [
        "Wren T",
        "Odd F",
        "Una",
        "Jan B",
        "Bo K",
    ]


def test_the_whole_name_is_kept_where_the_teacher_asks_for_it() -> None:
    assert names("Wren Tidewell\nFathom, Odd", short_names=False) == ["Wren Tidewell", "Odd Fathom"]


def test_two_who_would_be_alike_get_more_letters() -> None:
    assert names("Wren Tidewell\nWren Tollgate\nWren Sand") == ["Wren Ti", "Wren To", "Wren S"]
    assert names("Wren Tidewell\nWren Tideman\nWren Tibbs") == ["Wren Tid", "Wren Tid", "Wren Tib"]


def test_lines_are_numbered_as_the_teacher_counts_them() -> None:
    assert [line.number for line in read_roster("\nWren T\n\n\nOdd F").lines] == [2, 5]


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_columns_are_found_by_their_names(separator: str) -> None:
    text = "Id,E-Mail,Last name,First name,Section\n2071,w@x.example,Tidewell,Wren,B".replace(
        ",", separator
    )
    roster = read_roster(text)
    (line,) = roster.lines
    assert (line.number, line.name, line.roster_id, line.section) == (2, "Wren T", "2071", "B")
    assert roster.remarks == ["1 other column was dropped unread."]


def test_a_name_column_takes_both_ways_of_writing() -> None:
    assert names('name,id\n"Tidewell, Wren",1\nOdd Fathom,2') == ["Wren T", "Odd F"]


def test_oneroster_1_1_gives_students_names_and_ids_and_nothing_else() -> None:
    text = USERS_1_1 + (
        "u-1,,,true,o1,student,wtide,,Wren,Tidewell,Q,77,w@x.example,555,555,p1,09,secret\n"
        "u-2,,,true,o1,teacher,mquay,,Marit,Quay,,78,m@x.example,,,,,\n"
        "u-3,tobedeleted,,true,o1,student,gone,,Gone,Student,,79,,,,,09,\n"
    )
    roster = read_roster(text)
    assert [(line.name, line.roster_id) for line in roster.lines] == [("Wren T", "u-1")]
    assert [line.reason for line in roster.skipped] == [
        "The role is “teacher”, not student.",
        "Marked as to be deleted.",
    ]
    assert not [word for word in ("secret", "555", "77", "wtide") if word in str(roster.lines)]


def test_oneroster_1_2_takes_the_preferred_name_and_warns_of_the_missing_role() -> None:
    text = USERS_1_2 + "u-1,,,true,wt,,Wrenna,Tidewell,,,,,,,09,,,Wren,,,o1,\n"
    roster = read_roster(text)
    assert [line.name for line in roster.lines] == ["Wren T"]
    assert any("nobody's role" in remark for remark in roster.remarks)


def test_extra_metadata_columns_do_no_harm() -> None:
    assert names("sourcedId,metadata.x,givenName,familyName\nu-1,zzz,Wren,Tidewell") == ["Wren T"]


def test_only_one_section_is_taken_where_the_teacher_says_so() -> None:
    text = "name,section\nWren T,B\nOdd F,A\nUna S,\nBo K,b"
    assert names(text, only_section="B") == ["Wren T", "Bo K"]
    assert reasons(text, only_section="B") == ["Section “A”.", "No section given."]


def test_a_list_without_sections_says_that_all_lines_are_shown() -> None:
    assert "all of its lines" in read_roster("Wren T", only_section="B").remarks[0]
    assert "all of its lines" in read_roster("name,id\nWren T,1", only_section="B").remarks[0]


def test_the_same_id_twice_is_taken_once() -> None:
    assert reasons("name,id\nWren T,1\nOdd F,1") == ["The same id as line 2."]


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ('=HYPERLINK("http://x.example")', "Begins with “="),
        ("+1 555 0100", "Begins with “+"),
        ("-2+3", "Begins with “-"),
        ("@sum(A1)", "Begins with “@"),
        ("wren@x.example", "Has “@”"),
        ("<b>Wren</b>", "Has “<”"),
        ("Wren | rm", "Has “|”"),
        ("123", "no letter"),
        ("...", "no letter"),
        ("a" * 61, "longer than 60"),
        ("Wren\tTidewell", "Several columns"),
        ("Tidewell, Wren, 2071", "Several columns"),
    ],
)
def test_a_line_that_is_no_name_is_skipped_with_its_reason(line: str, why: str) -> None:
    roster = read_roster(f"Odd F\n{line}\nBo K")
    assert [one.name for one in roster.lines] == ["Odd F", "Bo K"]
    (skipped,) = roster.skipped
    assert skipped.number == 2
    assert why in skipped.reason
    assert len(skipped.shown) <= 60


def test_control_and_turned_around_characters_never_come_through() -> None:
    assert names("Wr\x00en\x1b T\u202e\u200b") == ["Wren T"]
    assert names("name,id\nWren\u202e T,1") == ["Wren T"]


@pytest.mark.parametrize("roster_id", ["=1+1", "@x", "-5", "+5"])
def test_an_id_that_a_spreadsheet_would_calculate_is_skipped(roster_id: str) -> None:
    assert "formula" in reasons(f"name,id\nWren T,{roster_id}")[0]


def test_an_id_past_its_length_is_skipped() -> None:
    assert "longer than 64" in reasons("name,id\nWren T," + "9" * 65)[0]


def test_names_of_all_scripts_are_names() -> None:
    assert names("Zoë Åkers\nИрина Ладога\n王芳\nAnne-Marie O’Dory\nनीला") == [
        "Zoë Å",
        "Ирина Л",
        "王芳",
        "Anne-Marie O",
        "नीला",
    ]


def test_a_file_with_columns_but_no_names_says_which_ones_it_needs() -> None:
    with pytest.raises(Refused, match="no column for names"):
        read_roster("id,section\n1,B")


def test_a_first_line_without_end_is_refused_before_it_costs_time() -> None:
    with pytest.raises(Refused, match="200001 columns"):
        read_roster("name" + "," * 200_000 + "\nWren T")


def test_short_rows_and_long_rows_are_read_as_far_as_they_go() -> None:
    roster = read_roster("name,id,section\nWren T\nOdd F,2,B,x,y,z\n,3,B")
    assert [line.name for line in roster.lines] == ["Wren T", "Odd F"]
    assert [line.reason for line in roster.skipped] == ["No name in this line."]


def test_a_quotation_mark_that_never_closes_is_no_accident() -> None:
    roster = read_roster('name,id\n"Wren T,1\nOdd F,2\nBo K,3')
    assert roster.lines == []
    assert len(roster.skipped) == 1
    with pytest.raises(Refused, match="quotation mark"):
        read_roster('name,id\n"' + "x" * 140_000)


@pytest.mark.parametrize("text", ["", " \n\t\n", "\ufeff"])
def test_nothing_at_all_is_said_to_be_nothing(text: str) -> None:
    with pytest.raises(Refused, match="no name in it"):
        read_roster(text)


def test_a_whole_school_in_one_list_is_refused_with_the_number() -> None:
    with pytest.raises(Refused, match="201 students"):
        read_roster("name,id\n" + "\n".join(f"Wren {chr(97 + n % 26)},{n}" for n in range(201)))


def test_five_thousand_lines_are_read_when_one_section_is_wanted() -> None:
    text = "name,section\n" + "\n".join(f"Wren T,{n % 100}" for n in range(4_999))
    assert len(names(text, only_section="7")) == 50
    with pytest.raises(Refused, match="5001 lines"):
        read_roster(text + "\nOdd F,7", only_section="7")


@pytest.mark.parametrize(
    ("data", "text"),
    [
        ("Zoë Å".encode(), "Zoë Å"),
        ("Zoë Å".encode("utf-8-sig"), "Zoë Å"),
        ("Zoë Å".encode("utf-16"), "Zoë Å"),
        ("Zoë Å – “x”".encode("cp1252"), "Zoë Å – “x”"),
        (b"", ""),
    ],
)
def test_files_of_old_and_new_computers_are_read(data: bytes, text: str) -> None:
    assert decode(data) == text


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"PK\x03\x04rest of an xlsx", "choose “Save as” and CSV"),
        (b"\xd0\xcf\x11\xe0old xls", "choose “Save as” and CSV"),
        (b"%PDF-1.7", "PDF"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "not text"),
        (b"name\n\x81\x8d", "not text"),
        (b"\xff\xfe\x00\xd8", "not text"),
        (b"x" * 1_000_001, "larger than 1 MB"),
    ],
)
def test_files_that_are_no_list_are_refused_with_the_way_out(data: bytes, says: str) -> None:
    with pytest.raises(Refused, match=says):
        decode(data)
