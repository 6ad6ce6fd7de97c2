"""The layout table's page, its answers to the script, and its plain forms."""

from __future__ import annotations

import html
import json
import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from shapely.geometry import box

from studio.models import Layout
from studio.steps.layouts.change import put
from tests.people import Cast, signed_in
from tests.studio.languages.leftovers import english_in
from tests.studio.plans.making import copper, stock, supplies

from .making import begun, drafted, fresh, lay, piece, spots

JSON = {"accept": "application/json"}


def state_of(client: Client, layout: Layout) -> dict[str, Any]:
    page = client.get(reverse("layout", args=[layout.pk]))
    assert page.status_code == 200
    found = re.search(
        r'<script id="layout-state" type="application/json">(.*?)</script>',
        page.content.decode(),
        re.DOTALL,
    )
    assert found
    return dict(json.loads(found[1]))


def send(client: Client, layout: Layout, to: str = "layout_change", **data: Any) -> Any:
    return client.post(reverse(to, args=[layout.pk]), data, headers=JSON)


def change(layout: Layout, x: float, y: float, number: int = 0, **more: Any) -> dict[str, Any]:
    name = piece(layout, number)
    to = {"metal": "CU-1", "mirror": False, "turn_deg": 0, "x_mm": x, "y_mm": y} | more
    return {"piece": name, "copy": 0, "to": to}


def test_the_page_has_everything_that_its_script_needs(cast: Cast) -> None:
    one = begun(cast)
    state = state_of(signed_in(cast.owner), one)
    assert state["version"] == 0
    assert state["may"] == {"change": True, "mirror": False}
    assert state["rules"] == {
        "kerf_mm": 0.3,
        "gap_mm": 1.0,
        "shared_mm": 0.5,
        "straight_min_mm": 8.0,
        "edge_gap_mm": 2.0,
        "cut_gap_mm": 0.0,
    }
    (metal,) = state["metal"]
    assert (metal["id"], len(metal["rings"][0][0]), metal["rough"]) == ("CU-1", 4, [])
    assert sorted(round(abs(x0 - x1) + abs(y0 - y1)) for x0, y0, x1, y1 in metal["clean_runs"]) == [
        90,
        90,
        120,
        120,
    ]
    tag, sail = state["pieces"]
    assert (tag["labels"], sail["labels"], len(tag["runs"])) == (["A1"], ["A2"], 4)
    assert [row["copies"] for row in state["judged"]["missing"]] == [[0], [0]]
    assert {"page", "change", "undo", "redo", "tries", "pin", "stock"} <= set(state["urls"])


def test_a_move_is_answered_with_the_judge_and_what_it_did(cast: Cast) -> None:
    supplies(cast)
    one, client = begun(cast), signed_in(cast.owner)
    first = send(client, one, changes=json.dumps([change(one, 0, 0)]), seen=0, key="a-1")
    assert first.status_code == 200
    judged = first.json()["state"]["judged"]
    figures = {row["key"]: row for row in judged["figures"]}
    assert (judged["faults"], first.json()["state"]["version"]) == ([], 1)
    assert figures["spared"]["value"] == "60.0 mm"  # left and lower side lie on the edges
    assert figures["saw"]["value"] == "60.0 mm"
    assert figures["price"]["value"].endswith("of 6.00 USD")
    assert len(judged["strip"]["ring"]) == 4
    over = send(client, one, changes=json.dumps([change(one, 20, 10, 1)]), seen=1, key="a-2")
    told = over.json()["state"]["judged"]
    assert told["faults"][0]["words"] == "A1 lies on A2."
    saw = next(row for row in told["figures"] if row["key"] == "saw")
    assert (saw["change"][0], saw["better"]) == ("+", None)  # one piece more is no worse layout
    back = send(client, one, "layout_undo", seen=2).json()["state"]
    assert (back["undo"], back["redo"], back["judged"]["faults"]) == (1, 1, [])
    saw = next(row for row in back["judged"]["figures"] if row["key"] == "saw")
    assert (saw["change"][0], saw["better"]) == ("−", None)
    off = send(client, one, changes=json.dumps([change(one, 5, 0)]), seen=3, key="a-3").json()
    figures = {row["key"]: row for row in off["state"]["judged"]["figures"]}
    assert (figures["saw"]["change"][0], figures["saw"]["better"]) == ("+", False)
    assert (figures["spared"]["change"][0], figures["spared"]["better"]) == ("−", False)


def test_an_old_page_and_a_closed_layout_are_told_with_the_present_state(cast: Cast) -> None:
    one, client = begun(cast), signed_in(cast.owner)
    put(one, [lay(one, 0, 0, 0)], acting=cast.owner)
    old = send(client, one, changes=json.dumps([change(one, 5, 5)]), seen=0)
    assert old.status_code == 409
    assert "changed meanwhile" in old.json()["text"]
    assert old.json()["state"]["placements"][0]["x_mm"] == 0
    Layout.objects.update(handed_in_at=one.created_at)
    closed = send(client, one, changes=json.dumps([change(one, 5, 5)]), seen=1)
    assert closed.status_code == 410
    assert closed.json()["go"] == reverse("layout", args=[one.pk])
    assert state_of(client, one)["may"]["change"] is False


@pytest.mark.parametrize(
    "sent",
    [
        "",
        "[]",
        "{}",
        "[1]",
        "[" * 5000,
        '[{"piece": "1/1", "copy": 0}]',
        '[{"piece": 1, "copy": 0, "to": null}]',
        '[{"piece": "1/1", "copy": true, "to": null}]',
        '[{"piece": "1/1", "copy": 0, "to": {"metal": "CU-1", "x_mm": NaN}}]',
        '[{"piece": "1/1", "copy": 0, "to": {"metal": "CU-1", "x_mm": 1e400}}]',
        '[{"piece": "1/1", "copy": 0, "to": {"metal": "CU-1", "piece": "1/2"}}]',
        '[{"piece": "1/1", "copy": 0, "to": {"metal": "CU-1", "why": 1}}]',
        '[{"piece": "1/1", "copy": 0, "to": [1, 2]}]',
        "x" * 300_000,
    ],
)
def test_whatever_is_sent_is_refused_in_words(cast: Cast, sent: str) -> None:
    one = begun(cast)
    answer = send(signed_in(cast.owner), one, changes=sent, seen=0)
    assert answer.status_code == 409
    assert "not understood" in answer.json()["text"]


def test_six_pieces_are_laid_by_plain_forms_and_put_right(cast: Cast) -> None:
    one, client = begun(cast, *[box(0, 0, 20, 15)] * 5, box(0, 0, 30, 10)), signed_in(cast.owner)
    url = reverse("layout_place", args=[one.pk])

    def form(number: int, **fields: str) -> str:
        which = f"{piece(one, number)}|0"
        seen = str(fresh(one, cast.owner).version)
        answer = client.post(url, {"which": which, "seen": seen, **fields}, follow=True)
        assert answer.status_code in (200, 422)
        return html.unescape(answer.content.decode())

    places = ["corner|CU-1|0", "corner|CU-1|1", "corner|CU-1|2", "corner|CU-1|3"]
    places += [f"beside|{piece(one, 0)}|0", "free"]
    for number, place in enumerate(places):
        assert "lies without a fault" in form(number, do="place", place=place), place
    now = fresh(one, cast.owner)
    assert len(spots(now)) == 6
    state = state_of(client, one)
    assert (state["judged"]["faults"], state["judged"]["missing"]) == ([], [])
    assert "over the edge" in form(5, do="at", x="-5", y="0", turn="0")
    assert "lies over" in client.get(reverse("layout", args=[one.pk])).content.decode()
    form(5, do="turn", by="90")
    assert fresh(one, cast.owner).laid[-1].turn_deg == 90
    form(5, do="turn", degrees="12,5")
    assert fresh(one, cast.owner).laid[-1].turn_deg == 102.5
    assert "in degrees" in form(5, do="turn", degrees="much")
    assert "not be mirrored" in form(5, do="mirror")
    form(5, do="tray")
    assert len(spots(fresh(one, cast.owner))) == 5
    assert "in the tray. Lay it first" in form(5, do="turn", by="90")
    assert "Choose a place first" in form(5, do="place", place="moon|1")
    assert "no room for it there" in form(5, do="place", place="corner|CU-1|99")


def test_stock_is_chosen_by_a_plain_form_with_a_rectangle(cast: Cast) -> None:
    one, client = begun(cast), signed_in(cast.owner)
    stock(copper(cast), "CU-2", box(0, 0, 200, 100))
    url = reverse("layout_stock", args=[one.pk])
    sides = {"x0-CU-2": "0", "y0-CU-2": "0", "x1-CU-2": "6 cm", "y1-CU-2": "50"}
    sent = {"stock": "CU-2", "seen": "0", "do": "stock", **sides}
    assert client.post(url, sent).status_code == 302
    (metal,) = state_of(client, one)["metal"]
    assert (metal["id"], len(metal["rough"])) == ("CU-2", 2)
    page = client.post(url, sent | {"seen": "1", "x1-CU-2": ""})
    assert page.status_code == 422
    assert "all four numbers" in page.content.decode()


def test_the_ways_from_project_and_plan(cast: Cast, plan: Any) -> None:
    project = plan.shares.get().project
    teacher, owner = signed_in(cast.teacher), signed_in(cast.owner)
    url = reverse("plan_layout", args=[plan.pk])
    assert "Nobody has laid this plan out" in teacher.get(url, follow=True).content.decode()
    assert teacher.post(url).status_code == 302
    made = Layout.objects.get(plan=plan)
    assert teacher.get(url).url == reverse("layout", args=[made.pk])
    assert state_of(teacher, made)["judged"]["missing"] == []
    assert owner.get(reverse("layout", args=[made.pk])).status_code == 404
    told = owner.get(reverse("project_layout", args=[project.pk]), follow=True)
    assert "The pattern is approved" in told.content.decode()
    assert not Layout.objects.filter(project=project).exists()


def test_a_first_layout_begins_when_its_student_asks_for_it(cast: Cast) -> None:
    project = drafted(cast)
    url = reverse("project_layout", args=[project.pk])
    assert "Nobody has laid" in signed_in(cast.teacher).get(url, follow=True).content.decode()
    assert signed_in(cast.classmate).get(url).status_code == 404
    assert Layout.objects.count() == 0
    client = signed_in(cast.owner)
    assert (
        client.get(url).url
        == client.get(url).url
        == reverse("layout", args=[Layout.objects.get().pk])
    )
    teacher = signed_in(cast.teacher)
    state = state_of(teacher, Layout.objects.get())
    assert state["may"]["change"] is False
    answer = send(teacher, Layout.objects.get(), changes="[]", seen=0)
    assert answer.status_code == 409


def test_tries_are_copied_named_chosen_and_deleted_by_plain_forms(cast: Cast) -> None:
    one, client = begun(cast), signed_in(cast.owner)
    url = reverse("layout_tries", args=[one.pk])
    there = client.post(url, {"do": "copy", "name": "by the edge"}).url
    two = Layout.objects.get(name="by the edge")
    assert there == reverse("layout", args=[two.pk])
    assert "by the edge" in client.get(there).content.decode()
    client.post(reverse("layout_tries", args=[two.pk]), {"do": "choose"})
    client.post(reverse("layout_tries", args=[two.pk]), {"do": "rename", "name": "<b>nearest"})
    assert "&lt;b&gt;nearest" in client.get(there).content.decode()
    assert client.post(url, {"do": "drop"}).url == there
    answer = client.post(url, {"do": "drop"}, headers=JSON)
    assert answer.status_code == 404


def test_a_student_reads_the_table_in_spanish(cast: Cast) -> None:
    one = begun(cast)
    put(one, [lay(one, 0, -1, 0)], acting=cast.owner)
    put(fresh(one, cast.owner), [lay(one, 1, 20, 10)], acting=cast.owner)
    page = signed_in(cast.owner).get(reverse("layout", args=[one.pk]) + "?lang=es")
    own = [cast.owner.display_name, cast.school.name, "A tag with a window", str(one.project)]
    assert list(english_in(page.content.decode(), own)) == []
