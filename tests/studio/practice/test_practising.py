"""Practising: one's own tries, on the layout table, with scripts and without."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from classroom.models import User
from studio.core.cutting.by_hand import placement_to_json
from studio.core.practice import BY_CODE, SHEETS, known
from studio.models import PracticeTry
from tests.people import Cast, signed_in

FLAGS = BY_CODE["flags"]


def moves_of(code: str, leave: int = 0) -> list[dict[str, Any]]:
    """The known answer as the table's script sends it, the last pieces left in the tray."""
    moves = []
    for p in BY_CODE[code].answer[: -leave or None]:
        said = placement_to_json(p)
        moves.append({"piece": said.pop("piece"), "copy": said.pop("copy"), "to": said})
    return moves


def send(
    client: Client, deed: str, code: str = "flags", seen: int = 0, key: str = "", **fields: Any
) -> Any:
    data = {"seen": str(seen), "key": key} | fields
    address = reverse(f"practice_{deed}", args=[code])
    return client.post(address, data, headers={"accept": "application/json"})


def lay(client: Client, moves: list[dict[str, Any]], seen: int = 0, key: str = "") -> Any:
    return send(client, "change", seen=seen, key=key, changes=json.dumps(moves))


def words_of(client: Client) -> list[str]:
    """How far the person has come, sheet by sheet."""
    page = client.get(reverse("practice")).content.decode()
    return re.findall(r'class="status is-\w+">([^<]+)<', page)


def test_the_known_answer_laid_is_whole_and_as_good_and_told_to_nobody_else(
    cast: Cast, own_desk: Client
) -> None:
    assert words_of(own_desk) == ["Not begun"] * 6
    state = lay(own_desk, moves_of("flags", leave=1)).json()["state"]
    assert state["version"] == 1
    assert [row["piece"] for row in state["judged"]["missing"]] == ["long flag"]
    assert words_of(own_desk)[0] == "Begun"
    shown = own_desk.get(reverse("practice_known", args=["flags"]), follow=True)
    assert shown.redirect_chain[-1][0] == reverse("practice_sheet", args=["flags"])
    state = lay(own_desk, moves_of("flags")[-1:], seen=1).json()["state"]
    assert (state["judged"]["faults"], state["judged"]["missing"]) == ([], [])
    assert words_of(own_desk)[0] == "As good as the known answer"
    both = own_desk.get(reverse("practice_known", args=["flags"])).content.decode()
    assert "Yours is as good as the known answer." in both
    for other in (cast.classmate, cast.teacher):
        assert words_of(signed_in(other)) == ["Not begun"] * 6
    own = PracticeTry.objects.get()
    assert (own.person, own.whole_at is not None) == (cast.owner, True)
    least = known("flags").measures.consumed_mm2
    assert own.best["consumed_mm2"] == pytest.approx(least, abs=0.01)


def test_the_best_layout_stays_told_when_a_poorer_one_is_laid_or_all_is_begun_again(
    own_desk: Client,
) -> None:
    lay(own_desk, moves_of("flags"))
    best = PracticeTry.objects.get().best
    away = moves_of("flags")[0] | {"to": None}
    lay(own_desk, [away], seen=1)
    assert send(own_desk, "again", seen=2).json()["state"]["placements"] == []
    assert PracticeTry.objects.get().best == best
    assert words_of(own_desk)[0] == "As good as the known answer"
    page = own_desk.get(reverse("practice_known", args=["flags"])).content.decode()
    assert "Your layout is not whole now" in page


def test_undo_and_redo_go_back_and_on_over_a_new_beginning(own_desk: Client) -> None:
    lay(own_desk, moves_of("flags", leave=2))
    lay(own_desk, [moves_of("flags")[0] | {"to": None}], seen=1)
    send(own_desk, "again", seen=2)
    laid = [
        len(send(own_desk, deed, seen=seen).json()["state"]["placements"])
        for seen, deed in enumerate(("undo", "undo", "undo", "redo", "redo", "redo"), start=3)
    ]
    assert laid == [2, 3, 0, 3, 2, 0]
    refused = send(own_desk, "redo", seen=9)
    assert refused.status_code == 409
    assert "redo" in refused.json()["text"]


def test_what_is_sent_twice_is_done_once_and_an_old_page_is_answered_with_what_stands(
    own_desk: Client,
) -> None:
    for _ in range(2):
        answer = lay(own_desk, moves_of("flags", leave=3), key="k1")
        assert answer.json()["state"]["version"] == 1
    late = lay(own_desk, moves_of("flags"), key="k2")
    assert late.status_code == 409
    assert late.json()["state"]["version"] == 1
    assert len(late.json()["state"]["pieces"]) == 4


@pytest.mark.parametrize(
    "sent",
    [
        [],
        [{"piece": "flag", "copy": 1, "to": None}],
        [{"piece": "no", "copy": 0, "to": None}],
        [moves_of("flags")[0], moves_of("flags")[0]],
        [{"piece": "flag", "copy": 0, "to": {"metal": "X", "x_mm": 0, "y_mm": 0}}],
        [{"piece": "flag", "copy": 0, "to": {"metal": "M", "x_mm": 1e7, "y_mm": 0}}],
        [{"piece": "flag", "copy": 0, "to": {"metal": "M", "x_mm": "NaN", "y_mm": 0}}],
        "nonsense",
    ],
)
def test_what_makes_no_sense_is_refused_and_nothing_is_stored(own_desk: Client, sent: Any) -> None:
    assert lay(own_desk, sent).status_code == 409
    assert not PracticeTry.objects.exclude(placements=[]).exists()
    assert not PracticeTry.objects.filter(version__gt=0).exists()


def test_without_scripts_a_piece_is_laid_by_choosing_a_place(own_desk: Client) -> None:
    page = own_desk.get(reverse("practice_sheet", args=["flags"])).content.decode()
    place = reverse("practice_place", args=["flags"])
    assert f'action="{place}"' in page
    sent = {"seen": "0", "which": "flag|0", "do": "place", "place": "corner|M|0"}
    answer = own_desk.post(place, sent, follow=True)
    assert answer.status_code == 200
    (laid,) = PracticeTry.objects.get().placements
    assert laid["piece"] == "flag"
    refused = own_desk.post(place, sent | {"seen": "1", "place": ""})
    assert refused.status_code == 422
    assert "Choose a place first." in refused.content.decode()


def everybody(cast: Cast) -> tuple[User, ...]:
    return (cast.teacher, cast.owner, cast.classmate, cast.outsider)


def test_each_of_the_four_practises_alone_and_a_try_is_nobody_elses(cast: Cast) -> None:
    for person in everybody(cast):
        client = signed_in(person)
        assert client.get(reverse("practice")).status_code == 200
        assert client.get(reverse("practice_sheet", args=["flags"])).status_code == 200
        assert lay(client, moves_of("flags", leave=1)).json()["state"]["version"] == 1
        for deed in ("undo", "redo", "again"):
            assert send(client, deed, seen=-1).status_code == 409
        assert client.get(reverse("practice_sheet", args=["no"])).status_code == 404
        assert send(client, "undo", code="no").status_code == 404
    assert PracticeTry.objects.count() == 4


def test_a_teacher_sees_the_known_answer_before_having_laid_anything(cast: Cast) -> None:
    for sheet in SHEETS[::3]:
        page = signed_in(cast.teacher).get(reverse("practice_known", args=[sheet.code]))
        assert page.status_code == 200


def test_the_projected_page_names_nobody_but_whose_account_it_is(
    cast: Cast, own_desk: Client
) -> None:
    lay(own_desk, moves_of("flags"))
    page = signed_in(cast.teacher).get(reverse("practice_sheet", args=["flags"])).content.decode()
    main = page[page.index('<main id="main"') : page.index("</main>")]
    for person in everybody(cast):
        assert person.display_name not in main


@pytest.mark.parametrize("name", ["practice", "practice_sheet", "practice_known"])
def test_every_page_speaks_spanish(cast: Cast, name: str) -> None:
    address = reverse(name, args=[] if name == "practice" else ["seven"])
    page = signed_in(cast.teacher).get(address, {"lang": "es"}).content.decode()
    assert '<html lang="es"' in page
    assert "Siete de un cuadrado" in page
