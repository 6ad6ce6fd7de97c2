"""A purchase that was typed in wrong is corrected: rack, prices, order and lists follow."""

from __future__ import annotations

import datetime as dt
import re
from decimal import Decimal
from typing import Any

import pytest
from django.urls import reverse

from classroom.refusals import Refused
from inventory.auditing import audit
from inventory.buying import ordering, receiving
from inventory.buying.correcting import Corrected, RightHead, RightLine, correct_purchase
from inventory.buying.prices import bought_from, correct_price, record_price
from inventory.buying.sheet_line import SheetLine, price_of_one
from inventory.models import MetalPrice, Purchase, PurchaseCorrection, StockMovement, StockPiece
from inventory.rack import stock
from tests.inventory.pages import metal_of, tick
from tests.people import Cast, signed_in

DAY = dt.date(2026, 11, 2)


@pytest.fixture
def purchase(cast: Cast) -> Purchase:
    """Four copper sheets for 40.00 and two of brass for 20.00, 3.00 freight, prices kept."""
    lines = [
        SheetLine(
            metal_of(cast.school), 4, Decimal("152.4"), Decimal("304.8"), Decimal("40.00"),
            place="drawer 2",
        ),
        SheetLine(
            metal_of(cast.school, "C26000"), 2, Decimal(100), Decimal(200), Decimal("20.00")
        ),
    ]  # fmt: skip
    made = receiving.receive_purchase(
        cast.school,
        lines,
        acting=cast.teacher,
        bought_on=DAY,
        seller="Quayside",
        freight=Decimal("3.00"),
    )
    for line, row in zip(lines, made.lines.order_by("pk"), strict=True):
        record_price(
            line.metal,
            price_of_one(line),
            width_mm=line.width_mm,
            height_mm=line.height_mm,
            dated=DAY,
            acting=cast.teacher,
            remark=bought_from("Quayside"),
            line=row,
        )
    return made


def right(purchase: Purchase, line: int = 0, **changes: Any) -> dict[int, RightLine]:
    found = {
        one.pk: {
            "count": one.count,
            "width_mm": one.width_mm,
            "height_mm": one.height_mm,
            "price": one.price,
            "weight_g": one.weight_g,
        }
        for one in purchase.lines.all()
    }
    found[list(found)[line]] |= changes
    return {pk: RightLine(**values) for pk, values in found.items()}


def correct(
    cast: Cast,
    purchase: Purchase,
    lines: dict[int, RightLine] | None = None,
    *,
    reason: str = "misread the receipt",
    seen: int | None = None,
    **head: Any,
) -> Corrected:
    purchase.refresh_from_db()
    said = {
        name: getattr(purchase, name)
        for name in ("bought_on", "seller", "reference", "freight", "tax")
    }
    return correct_purchase(
        purchase,
        RightHead(**(said | head)),
        right(purchase) if lines is None else lines,
        acting=cast.teacher,
        reason=reason,
        seen=purchase.corrections.count() if seen is None else seen,
    )


def costs(alloy: str = "C11000") -> list[Decimal]:
    rows = StockPiece.objects.filter(metal__alloy_code=alloy).exclude(state="gone")
    return list(rows.order_by("code").values_list("cost", flat=True))


def prices(alloy: str = "C11000") -> list[Decimal]:
    rows = MetalPrice.objects.in_force().filter(metal__alloy_code=alloy)
    return list(rows.values_list("amount", flat=True))


def use(piece: StockPiece, cast: Cast) -> None:
    stock.reserve([piece], acting=cast.teacher, reason="kept", cause="cutplan:1")


def test_a_price_corrected_reaches_the_free_sheets_the_line_and_the_list_of_prices(
    cast: Cast, purchase: Purchase
) -> None:
    assert costs() == [Decimal("10.50")] * 4
    done = correct(cast, purchase, right(purchase, price=Decimal("48.00")))
    assert done.changed
    # 3.00 freight by value: 48 to 20 is 2.12 and 0.88.
    line, brass = purchase.lines.order_by("pk")
    assert (line.price, line.extras, line.total) == (
        Decimal("48.00"), Decimal("2.12"), Decimal("50.12"),
    )  # fmt: skip
    assert brass.total == Decimal("20.88")
    assert costs() == [Decimal("12.53")] * 4
    assert prices() == [Decimal("12.00")]
    assert MetalPrice.objects.count() == 3  # the old one stays, and the new one names it
    first = PurchaseCorrection.objects.get(line=line)
    assert (first.before["price"], first.after["price"]) == ("40.00", "48.00")
    assert (first.reason, first.actor) == ("misread the receipt", cast.teacher)
    move = StockMovement.objects.filter(kind="correct").first()
    assert move is not None
    assert move.cause == f"purchasecorrection:{first.pk}"
    assert list(audit(cast.school)) == []


def test_sheets_in_use_keep_the_cost_they_were_priced_with_and_the_difference_is_told(
    cast: Cast, purchase: Purchase
) -> None:
    used = StockPiece.objects.get(code="CU-0.81-002")
    use(used, cast)
    done = correct(cast, purchase, right(purchase, price=Decimal("48.00")))
    assert costs() == [Decimal("12.53"), Decimal("10.50"), Decimal("12.53"), Decimal("12.53")]
    assert (done.kept, [piece.code for piece in done.kept_cost]) == (
        Decimal("2.03"), ["CU-0.81-002"],
    )  # fmt: skip
    assert list(audit(cast.school)) == []
    # Back again: what it kept is taken back with it.
    stock.release([used], acting=cast.teacher, reason="dropped", cause="cutplan:1")
    again = correct(cast, purchase, right(purchase, price=Decimal("40.00")))
    assert again.kept == Decimal("-2.03")
    assert costs() == [Decimal("10.50")] * 4
    assert list(audit(cast.school)) == []


def test_freight_and_tax_are_shared_out_again(cast: Cast, purchase: Purchase) -> None:
    correct(cast, purchase, freight=Decimal("9.00"), tax=Decimal("0.60"))
    assert [line.total for line in purchase.lines.order_by("pk")] == [
        Decimal("46.40"), Decimal("23.20"),
    ]  # fmt: skip
    assert costs("C26000") == [Decimal("11.60")] * 2
    head = PurchaseCorrection.objects.get(line=None)
    assert head.before == {"freight": "3.00", "tax": "0.00"}
    assert list(audit(cast.school)) == []


def test_a_size_reaches_untouched_sheets_only(cast: Cast, purchase: Purchase) -> None:
    use(StockPiece.objects.get(code="CU-0.81-001"), cast)
    size = {"width_mm": Decimal(100), "height_mm": Decimal("304.8")}
    done = correct(cast, purchase, right(purchase, **size))
    assert [piece.code for piece in done.kept_size] == ["CU-0.81-001"]
    widths = StockPiece.objects.filter(metal__alloy_code="C11000").order_by("code")
    assert [float(piece.width_mm) for piece in widths] == [152.4, 100, 100, 100]
    assert MetalPrice.objects.in_force().filter(width_mm=100, height_mm=Decimal("304.8")).exists()
    assert list(audit(cast.school)) == []


def test_more_sheets_are_new_pieces_with_new_labels(cast: Cast, purchase: Purchase) -> None:
    StockPiece.objects.filter(code="CU-0.81-001").update(measured_mm=Decimal("0.80"))
    done = correct(cast, purchase, right(purchase, count=6))
    assert [piece.code for piece in done.added] == ["CU-0.81-005", "CU-0.81-006"]
    assert {piece.measured_mm for piece in done.added} == {None}  # nobody has measured them
    assert costs() == [Decimal("7.00")] * 6
    assert {piece.place for piece in StockPiece.objects.filter(metal__alloy_code="C11000")} == {
        "drawer 2"
    }
    assert prices() == [Decimal("6.67")]
    assert list(audit(cast.school)) == []


def test_fewer_sheets_strike_untouched_ones_off_the_newest_labels_first(
    cast: Cast, purchase: Purchase
) -> None:
    use(StockPiece.objects.get(code="CU-0.81-004"), cast)
    done = correct(cast, purchase, right(purchase, count=2))
    assert [piece.code for piece in done.struck] == ["CU-0.81-003", "CU-0.81-002"]
    assert costs() == [Decimal("21.00"), Decimal("10.50")]
    assert done.kept == Decimal("10.50")
    assert list(audit(cast.school)) == []


def test_too_few_untouched_sheets_are_refused_whole(cast: Cast, purchase: Purchase) -> None:
    for code in ("CU-0.81-001", "CU-0.81-004"):
        use(StockPiece.objects.get(code=code), cast)
    with pytest.raises(Refused, match="3 of 4 sheets would have to go, and only 2 of them lies"):
        correct(cast, purchase, right(purchase, count=1), seller="Elsewhere")
    purchase.refresh_from_db()
    assert purchase.seller == "Quayside"
    assert not PurchaseCorrection.objects.exists()


def test_a_line_entered_by_mistake_has_no_sheets_and_no_price(
    cast: Cast, purchase: Purchase
) -> None:
    correct(cast, purchase, right(purchase, count=0))
    line, brass = purchase.lines.order_by("pk")
    assert (line.count, line.total, brass.total) == (0, Decimal(0), Decimal("23.00"))
    assert costs() == []
    assert prices() == []
    assert list(audit(cast.school)) == []
    correct(cast, purchase, right(purchase, count=1, price=Decimal("10.00")))
    assert costs() == [Decimal("11.00")]
    assert list(audit(cast.school)) == []


def test_a_line_that_comes_back_brings_its_price_back(cast: Cast, purchase: Purchase) -> None:
    correct(cast, purchase, right(purchase, count=0))
    correct(cast, purchase, seller="Quayside Metal")
    assert prices() == []
    correct(cast, purchase, right(purchase, count=4, price=Decimal("40.00")))
    (price,) = MetalPrice.objects.in_force().filter(metal__alloy_code="C11000")
    assert (price.amount, price.remark) == (Decimal("10.00"), "bought Quayside Metal")
    correct(cast, purchase, right(purchase, price=Decimal("44.00")))
    assert prices() == [Decimal("11.00")]


def test_a_price_typed_by_hand_does_not_follow_a_purchase_that_says_the_same(
    cast: Cast, purchase: Purchase
) -> None:
    own = MetalPrice.objects.get(metal__alloy_code="C11000")
    MetalPrice.objects.create(
        metal=own.metal, amount=own.amount, width_mm=own.width_mm, height_mm=own.height_mm,
        dated=own.dated, remark=own.remark, recorded_by=cast.teacher,
    )  # fmt: skip
    correct(cast, purchase, right(purchase, price=Decimal("48.00")))
    assert sorted(prices()) == [Decimal("10.00"), Decimal("12.00")]
    correct(cast, purchase, right(purchase, count=0))
    assert prices() == [Decimal("10.00")]


def test_a_price_that_was_withdrawn_by_hand_stays_withdrawn(cast: Cast, purchase: Purchase) -> None:
    own = MetalPrice.objects.get(metal__alloy_code="C11000")
    correct_price(own, acting=cast.teacher, reason="a gift", withdrawn=True)
    correct(cast, purchase, right(purchase, count=0))
    correct(cast, purchase, right(purchase, count=4, price=Decimal("40.00")))
    assert prices() == []


def test_day_and_seller_are_corrected_with_the_prices_of_that_day(
    cast: Cast, purchase: Purchase
) -> None:
    day = dt.date(2026, 10, 30)
    correct(cast, purchase, bought_on=day, seller="Quayside Metal", reference="R-7")
    purchase.refresh_from_db()
    assert (purchase.bought_on, purchase.reference) == (day, "R-7")
    assert {(one.dated, one.remark) for one in MetalPrice.objects.in_force()} == {
        (day, "bought Quayside Metal")
    }


def test_what_was_kept_by_hand_stays_on_top(cast: Cast, purchase: Purchase) -> None:
    from inventory.rack import correcting

    piece = StockPiece.objects.get(code="CU-0.81-001")
    correcting.correct(piece, acting=cast.teacher, reason="bent", cost=Decimal("4.00"))
    correct(cast, purchase, right(purchase, price=Decimal("48.00")))
    assert costs()[0] == Decimal("6.03")
    with pytest.raises(Refused, match=r"CU-0\.81-001 was given another cost by hand"):
        correct(cast, purchase, right(purchase, price=Decimal("1.00")))
    assert list(audit(cast.school)) == []


def test_two_people_do_not_correct_over_each_other(cast: Cast, purchase: Purchase) -> None:
    correct(cast, purchase, seller="Quayside Metal")
    with pytest.raises(Refused, match="Somebody corrected this purchase"):
        correct(cast, purchase, seller="Q", seen=0)


def test_it_needs_a_reason_and_says_when_nothing_differs(cast: Cast, purchase: Purchase) -> None:
    with pytest.raises(Refused, match="Say why"):
        correct(cast, purchase, reason=" ", seller="Q")
    assert not correct(cast, purchase).changed
    assert not PurchaseCorrection.objects.exists()


def test_an_order_follows_what_came_of_it(cast: Cast) -> None:
    copper = metal_of(cast.school)
    order = ordering.write_order(
        cast.school,
        [ordering.OrderLine(copper, 3, Decimal(100), Decimal(100))],
        acting=cast.teacher,
        ordered_on=DAY,
    )
    line = SheetLine(
        copper, 3, Decimal(100), Decimal(100), Decimal("9.00"), order_line=order.lines.get()
    )
    bought = receiving.receive_purchase(
        cast.school, [line], acting=cast.teacher, bought_on=DAY, order=order
    )
    correct(cast, bought, right(bought, count=2))
    order.refresh_from_db()
    assert order.closed_at is None
    assert ordering.standing(order)[0].to_come == 1
    correct(cast, bought, right(bought, count=3))
    order.refresh_from_db()
    assert order.closed_at is not None
    with pytest.raises(Refused, match="3 were ordered"):
        correct(cast, bought, right(bought, count=4))


def page_of(purchase: Purchase) -> str:
    return reverse("purchase_correct", args=[purchase.pk])


def as_shown(text: str) -> dict[str, str]:
    """What a browser would send of the page's form if nothing were changed."""
    names = re.findall(r'<input[^>]*name="(?!csrf)([^"]+)"[^>]*>', text)
    found = {}
    for name in names:
        tag = re.search(rf'<input[^>]*name="{re.escape(name)}"[^>]*>', text)
        assert tag is not None
        value = re.search(r'value="([^"]*)"', tag.group())
        found[name] = value.group(1) if value else ""
    return found


@pytest.mark.parametrize("units", ["mm", "in"])
def test_its_page_has_all_present_values_and_sent_as_it_is_changes_nothing(
    cast: Cast, purchase: Purchase, units: str
) -> None:
    cast.school.units = units
    cast.school.save()
    client = signed_in(cast.teacher)
    text = client.get(page_of(purchase)).content.decode()
    assert "Quayside" in text
    assert "is expected" in text
    data = as_shown(text) | {"reason": "looked again"}
    answer = client.post(page_of(purchase), data, follow=True)
    assert "nothing was changed" in answer.content.decode()
    assert not PurchaseCorrection.objects.exists()


def test_its_page_corrects_and_the_purchase_tells_what_it_said_before(
    cast: Cast, purchase: Purchase
) -> None:
    use(StockPiece.objects.get(code="CU-0.81-001"), cast)
    client = signed_in(cast.teacher)
    (first, _) = purchase.lines.order_by("pk")
    data = as_shown(client.get(page_of(purchase)).content.decode())
    data |= {
        f"line-{first.pk}-price": "48.00",
        f"line-{first.pk}-count": "3",
        "reason": "misread the receipt",
    }
    text = client.post(page_of(purchase), data, follow=True).content.decode()
    assert "price of the line 48.00 USD, before 40.00 USD" in text
    assert "sheets 3, before 4" in text
    assert "misread the receipt" in text
    assert "CU-0.81-001 keep the cost" in text
    assert "Difference" in text
    assert "6.21 USD" in text  # 50.12 / 3 = 16.71, priced with 10.50
    sheets = text.partition("The sheets</h2>")[2]
    assert "CU-0.81-003" in sheets
    assert "CU-0.81-004" not in sheets.partition("Corrected since")[0]
    listed = client.get(reverse("purchases")).content.decode()
    assert "71.00 USD" in listed
    labels = client.get(reverse("purchase_labels", args=[purchase.pk])).content.decode()
    assert "CU-0.81-004" not in labels
    assert "48.00 USD" not in client.get(reverse("metals")).content.decode()
    assert "16.00 USD" in client.get(reverse("metals")).content.decode()
    assert list(audit(cast.school)) == []


def test_its_page_asks_before_it_saves_and_says_no_with_everything_still_there(
    cast: Cast, purchase: Purchase
) -> None:
    client = signed_in(cast.teacher)
    (first, _) = purchase.lines.order_by("pk")
    data = as_shown(client.get(page_of(purchase)).content.decode())
    data |= {f"line-{first.pk}-weight": "12 kg", "reason": "weighed"}
    text = client.post(page_of(purchase), data).content.decode()
    assert "The scale says 12000.0 g; by size and thickness about 1341.3 g is expected" in text
    assert 'value="12 kg"' in text
    yes = {f"line-{first.pk}-sure": tick(text, f"line-{first.pk}-sure")}
    for code in ("CU-0.81-001", "CU-0.81-002", "CU-0.81-003"):
        use(StockPiece.objects.get(code=code), cast)
    text = client.post(page_of(purchase), data | {f"line-{first.pk}-count": "1"}).content.decode()
    assert "3 of 4 sheets would have to go" not in text  # asked first
    assert client.post(page_of(purchase), data | yes).status_code == 302
    first.refresh_from_db()
    assert first.weight_g == Decimal(12_000)
