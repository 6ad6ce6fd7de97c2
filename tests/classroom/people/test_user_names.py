"""User names are plain, short, free, and made from what people are called."""

from __future__ import annotations

import pytest

from classroom.models import User
from classroom.people.user_names import free_user_names, plain_name
from tests.people import Cast


@pytest.mark.parametrize(
    ("name", "plain"),
    [
        ("Wren T", "wren.t"),
        ("Zoë Åkers", "zoe.akers"),
        ("Øystein Łuk", "oystein.luk"),
        ("Æsa ß", "aesa.ss"),
        ("Seán O’Dory", "sean.odory"),
        ("Sean O'Dory", "sean.odory"),
        ("Mary-Ann  van der B.", "mary.ann.van.der.b"),
        ("Ирина", "student"),
        ("王芳", "student"),
        ("İpek", "ipek"),
        ("x" * 80, "x" * 32),
    ],
)
def test_names_become_plain_ascii(name: str, plain: str) -> None:
    assert plain_name(name) == plain


def test_names_that_are_taken_get_a_number(cast: Cast) -> None:
    assert free_user_names(["Wren T", "Wren T", "Odd F", "New N"]) == [
        "wren.t2",
        "wren.t3",
        "odd.f2",
        "new.n",
    ]


def test_a_number_that_is_taken_is_passed_over(cast: Cast) -> None:
    User.objects.create_user("wren.t2", display_name="W", role="student", school=cast.school)
    assert free_user_names(["Wren T"]) == ["wren.t3"]


def test_every_name_made_is_a_valid_user_name(cast: Cast) -> None:
    for name in free_user_names(["Wren T", "王芳", "x" * 80, "Seán O’Dory", "-"]):
        User._meta.get_field("username").run_validators(name)
