"""Rectangles laid in rectangles by cuts from edge to edge.

Nothing here knows of pieces: an item is a list of sizes that would do for it, and metal is a
rectangle. After Gilmore & Gomory 1965: every cut parts one rectangle in two, and so on.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

HAIR_MM = 1e-6
FEW_MM2 = 1e-9
SHARE_TO_HOLD = 0.35  # of what is too small for the rack, what counts as it may hold an item yet

Chance = np.random.Generator


@dataclass(frozen=True, slots=True)
class Size:
    """A size that would do for an item, in mm; `kind` names the bins that it is for, `form` is
    the caller's own. `back` is what of its area goes back to the rack again, as its worth counts
    it, in mm²."""

    wide: float
    high: float
    kind: int = 0
    form: int = 0
    back: float = 0.0


@dataclass(frozen=True, slots=True)
class Item:
    """What wants one rectangle: sizes that would do, and the area that it truly needs, in mm²."""

    sizes: tuple[Size, ...]
    area: float = 0.0
    bins: frozenset[int] | None = None  # where it may lie; None: anywhere


@dataclass(frozen=True, slots=True)
class Bin:
    """Metal: a rectangle, whose true edges lie `rim` mm outside it (inside where negative)."""

    wide: float
    high: float
    price: float = 1.0
    kinds: frozenset[int] = frozenset((0,))
    rim: float = 0.0
    lost: float = 0.0  # mm² that are used up besides where it is touched


@dataclass(frozen=True, slots=True)
class Rules:
    """What binds cuts (mm), and what is worth keeping (mm, mm²)."""

    kerf: float = 0.0
    least: float = 0.0
    longest: float = math.inf
    throat: float = math.inf
    keep_wide: float = 0.0
    keep_area: float = 0.0
    cut_price: float = 0.0  # in mm² a mm


@dataclass(frozen=True, slots=True)
class Rect:
    """A part of a bin; its number counts as those of a plan's cuts do."""

    bin: int
    part: int
    x: float
    y: float
    wide: float
    high: float

    @property
    def area(self) -> float:
        return self.wide * self.high


@dataclass(frozen=True, slots=True)
class Slit:
    """A cut through a part: at x = `at` where it is upright, else at y = `at`; its middle. It
    makes the parts `own` and `rest`; where upright, `own` is on its left, else below it."""

    bin: int
    part: int
    upright: bool
    at: float
    length: float
    own: int
    rest: int


@dataclass(frozen=True, slots=True)
class Laid:
    """An item on its part of a bin, and where on it its lower left corner is."""

    item: int
    size: Size
    rect: Rect
    corner: tuple[float, float]


@dataclass
class Packing:
    """Items in their rectangles, in the order in which they were laid."""

    laid: list[Laid] = field(default_factory=list)
    slits: list[Slit] = field(default_factory=list)
    free: list[Rect] = field(default_factory=list)  # of the bins that are touched
    left: list[int] = field(default_factory=list)
    cost: float = 0.0


@dataclass(frozen=True, slots=True)
class Way:
    """How one packing is made: what comes first, and what is thought of small leftovers."""

    items: tuple[int, ...]
    bins: tuple[int, ...]
    whole: float = 1.0  # mm: how much a leftover in one is better than in two
    hold: float = SHARE_TO_HOLD
    noise: float = 0.0


class Packer:
    """Packs the same items in the same bins, again and again."""

    def __init__(self, bins: Sequence[Bin], items: Sequence[Item], rules: Rules) -> None:
        self.bins, self.items, self.rules = bins, items, rules

    def first_way(self) -> Way:
        """Large items first, cheap bins first."""
        by_area = sorted(range(len(self.items)), key=lambda i: (-self._size_of(i), i))
        cheap = sorted(
            range(len(self.bins)),
            key=lambda b: (self.bins[b].wide * self.bins[b].high * self.bins[b].price, b),
        )
        return Way(tuple(by_area), tuple(cheap))

    def _size_of(self, item: int) -> float:
        return min((s.wide * s.high - s.back for s in self.items[item].sizes), default=0.0)

    def varied(self, way: Way, chance: Chance) -> Way:
        """A way a little or much unlike another."""
        items, bins = list(way.items), list(way.bins)
        if len(items) > 1:
            for _ in range(int(chance.integers(1, 4))):
                a, b = (int(v) for v in chance.integers(0, len(items), 2))
                if chance.random() < 0.5:
                    items.insert(b, items.pop(a))
                else:
                    items[a], items[b] = items[b], items[a]
        if len(bins) > 1 and chance.random() < 0.2:
            a, b = (int(v) for v in chance.integers(0, len(bins), 2))
            bins.insert(b, bins.pop(a))
        whole, hold, noise = way.whole, way.hold, way.noise
        if chance.random() < 0.4:
            whole = float(chance.choice([0.0, 1.0, 3.0, 8.0]))
            hold = float(chance.choice([0.0, 0.35, 0.7, 1.0]))
            noise = float(chance.choice([0.0, 0.0, 0.03, 0.1]))
        return Way(tuple(items), tuple(bins), whole, hold, noise)

    def pack(
        self, way: Way, chance: Chance | None = None, go_on: Callable[[], bool] | None = None
    ) -> Packing:
        """Each item where it costs least, on metal in use before any other is touched.

        Where `go_on` says no, the rest is left out.
        """
        found = Packing()
        cuts = dict.fromkeys(range(len(self.bins)), 0)
        waiting = list(way.bins)
        for number in way.items:
            item = self.items[number]
            if go_on is not None and not go_on():
                found.left.append(number)
                continue
            best = self._best(item, found.free, way, chance)
            while best is None and waiting:
                at = next((b for b in waiting if self._may_hold(b, item)), None)
                if at is None:
                    break
                whole = Rect(at, 0, 0.0, 0.0, self.bins[at].wide, self.bins[at].high)
                best = self._best(item, [whole], way, chance)
                if best is None:
                    break
                waiting.remove(at)
                found.free.append(whole)
            if best is None:
                found.left.append(number)
                continue
            self._take(found, number, best, cuts)
        if self.rules.cut_price > 0.0:
            self._spare_cuts(found)
        found.cost = self.cost(found)
        return found

    def _spare_cuts(self, found: Packing) -> None:
        """Leave out cuts that cost more than they bring: the blank is larger then."""
        laid = {(one.rect.bin, one.rect.part): k for k, one in enumerate(found.laid)}
        free = {(rect.bin, rect.part): rect for rect in found.free}
        for slit in reversed(list(found.slits)):
            one, other = (slit.bin, slit.own), (slit.bin, slit.rest)
            if other in laid and one in free:
                one, other = other, one
            if one not in laid or other not in free:
                continue
            k, rest = laid[one], free[other]
            own = found.laid[k]
            x, y = min(own.rect.x, rest.x), min(own.rect.y, rest.y)
            right = max(own.rect.x + own.rect.wide, rest.x + rest.wide)
            top = max(own.rect.y + own.rect.high, rest.y + rest.high)
            whole = Rect(slit.bin, slit.part, x, y, right - x, top - y)
            apart = self.kept_in(own.size, (own.rect.wide, own.rect.high))
            apart += self._kept(rest.wide, rest.high) - self.rules.cut_price * slit.length
            if self.kept_in(own.size, (whole.wide, whole.high)) < apart:
                continue
            found.laid[k] = Laid(own.item, own.size, whole, own.corner)
            found.slits.remove(slit)
            found.free.remove(rest)
            del laid[one], free[other]
            laid[slit.bin, slit.part] = k

    def _may_hold(self, index: int, item: Item) -> bool:
        own = self.bins[index]
        if item.bins is not None and index not in item.bins:
            return False
        return any(
            s.kind in own.kinds and s.wide <= own.wide + HAIR_MM and s.high <= own.high + HAIR_MM
            for s in item.sizes
        )

    def _best(
        self, item: Item, free: Sequence[Rect], way: Way, chance: Chance | None
    ) -> tuple[Rect, Size, tuple[float, float], str] | None:
        """Where an item costs least: the part, the size, what it gets of it, and the cuts."""
        best: tuple[Rect, Size, tuple[float, float], str] | None = None
        least = math.inf
        for rect in free:
            if item.bins is not None and rect.bin not in item.bins:
                continue
            own = self.bins[rect.bin]
            before = self._value(rect.wide, rect.high, way)
            for size in item.sizes:
                if (
                    size.kind not in own.kinds
                    or size.wide > rect.wide + HAIR_MM
                    or size.high > rect.high + HAIR_MM
                ):
                    continue
                for got, order in self._ways_to_cut(rect, size):
                    figure = before - self._left_worth(rect, size, got, order, way)
                    figure *= own.price
                    if way.noise and chance is not None:
                        figure += way.noise * own.price * item.area * float(chance.random())
                    if figure < least - FEW_MM2:
                        least, best = figure, (rect, size, got, order)
        return best

    def _ways_to_cut(self, rect: Rect, size: Size) -> list[tuple[tuple[float, float], str]]:
        """What an item may get of a part, and by which cuts: "x" upright, "y" level, in order."""
        wide = self._enough(rect, size.wide, across=True)
        high = self._enough(rect, size.high, across=False)
        found = []
        if wide is not None and high is not None:
            if self._may_cut(rect, wide, upright=True) and self._may_cut(
                Rect(rect.bin, 0, rect.x, rect.y, wide, rect.high), high, upright=False
            ):
                found.append(((wide, high), "xy"))
            if self._may_cut(rect, high, upright=False) and self._may_cut(
                Rect(rect.bin, 0, rect.x, rect.y, rect.wide, high), wide, upright=True
            ):
                found.append(((wide, high), "yx"))
        if not found:
            if wide is not None and self._may_cut(rect, wide, upright=True):
                found.append(((wide, rect.high), "x"))
            if high is not None and self._may_cut(rect, high, upright=False):
                found.append(((rect.wide, high), "y"))
        return found or [((rect.wide, rect.high), "")]

    def _enough(self, rect: Rect, need: float, *, across: bool) -> float | None:
        """How much of a part's width (or height) an item gets; None: all, there is no cut."""
        own = self.bins[rect.bin]
        whole, at = (rect.wide, rect.x) if across else (rect.high, rect.y)
        full = own.wide if across else own.high
        near = own.rim if at <= HAIR_MM else 0.0
        far = own.rim if at + whole >= full - HAIR_MM else 0.0
        gets = max(need, self.rules.least - near)
        if whole - gets - self.rules.kerf + far < max(self.rules.least, HAIR_MM) - FEW_MM2:
            return None
        return gets

    def _may_cut(self, rect: Rect, at: float, *, upright: bool) -> bool:
        """Whether the shear is long enough for a cut, and the saw frame deep enough."""
        rules = self.rules
        if math.isinf(rules.longest) and math.isinf(rules.throat):
            return True
        own = self.bins[rect.bin]
        x0 = own.rim if rect.x <= HAIR_MM else 0.0
        y0 = own.rim if rect.y <= HAIR_MM else 0.0
        x1 = own.rim if rect.x + rect.wide >= own.wide - HAIR_MM else 0.0
        y1 = own.rim if rect.y + rect.high >= own.high - HAIR_MM else 0.0
        half = 0.5 * rules.kerf
        if upright:
            length, near, far = rect.high + y0 + y1, at + half + x0, rect.wide - at - half + x1
        else:
            length, near, far = rect.wide + x0 + x1, at + half + y0, rect.high - at - half + y1
        return length <= rules.longest + HAIR_MM and (
            min(0.5 * length, near, far) <= rules.throat + HAIR_MM
        )

    def _left_worth(
        self, rect: Rect, size: Size, got: tuple[float, float], order: str, way: Way
    ) -> float:
        """What a part is worth yet once an item has got its own out of it, less the cuts."""
        wide, high = got
        kerf = self.rules.kerf
        rest_wide, rest_high = rect.wide - wide - kerf, rect.high - high - kerf
        if order == "xy":
            worth = self._value(rest_wide, rect.high, way) + self._value(wide, rest_high, way)
            cut = rect.high + wide
        elif order == "yx":
            worth = self._value(rect.wide, rest_high, way) + self._value(rest_wide, high, way)
            cut = rect.wide + high
        elif order == "x":
            worth, cut = self._value(rest_wide, rect.high, way), rect.high
        elif order == "y":
            worth, cut = self._value(rect.wide, rest_high, way), rect.wide
        else:
            worth, cut = 0.0, 0.0
        return worth + self.kept_in(size, got) - self.rules.cut_price * cut

    def kept_in(self, size: Size, got: tuple[float, float]) -> float:
        """The area that goes back to the rack out of a blank larger than it need be."""
        more_wide, more_high = got[0] - size.wide, got[1] - size.high
        one = self._kept(more_wide, got[1]) + self._kept(size.wide, more_high)
        other = self._kept(got[0], more_high) + self._kept(more_wide, size.high)
        return size.back + max(one, other)

    def _kept(self, wide: float, high: float) -> float:
        area = wide * high
        if min(wide, high) < self.rules.keep_wide or area < self.rules.keep_area:
            return 0.0
        return area

    def _value(self, wide: float, high: float, way: Way) -> float:
        area = wide * high
        if min(wide, high) < self.rules.keep_wide or area < self.rules.keep_area:
            return way.hold * area
        return area - way.whole * math.sqrt(area)

    def _take(
        self,
        found: Packing,
        number: int,
        best: tuple[Rect, Size, tuple[float, float], str],
        cuts: dict[int, int],
    ) -> None:
        rect, size, (wide, high), order = best
        found.free.remove(rect)
        kerf = self.rules.kerf
        for way in order:
            k = cuts[rect.bin]
            cuts[rect.bin] = k + 1
            upright = way == "x"
            if upright:
                at = rect.x + wide
                own = Rect(rect.bin, 2 * k + 1, rect.x, rect.y, wide, rect.high)
                rest = Rect(
                    rect.bin, 2 * k + 2, at + kerf, rect.y, rect.wide - wide - kerf, rect.high
                )
            else:
                at = rect.y + high
                own = Rect(rect.bin, 2 * k + 2, rect.x, rect.y, rect.wide, high)
                rest = Rect(
                    rect.bin, 2 * k + 1, rect.x, at + kerf, rect.wide, rect.high - high - kerf
                )
            length = rect.high if upright else rect.wide
            found.slits.append(
                Slit(rect.bin, rect.part, upright, at + 0.5 * kerf, length, own.part, rest.part)
            )
            found.free.append(rest)
            rect = own
        found.laid.append(Laid(number, size, rect, (rect.x, rect.y)))

    def cost(self, packing: Packing) -> float:
        """What is used up, at its price: metal touched less what goes back, and the cuts."""
        touched = {laid.rect.bin for laid in packing.laid}
        cost = sum(
            self.bins[b].price * (self.bins[b].wide * self.bins[b].high + self.bins[b].lost)
            for b in touched
        )
        for rect in packing.free:
            if rect.bin in touched:
                kept = self._kept(rect.wide, rect.high)
                cost -= self.bins[rect.bin].price * (kept - 0.5 * math.sqrt(kept))
        for laid in packing.laid:
            got = (laid.rect.wide, laid.rect.high)
            cost -= self.bins[laid.rect.bin].price * self.kept_in(laid.size, got)
        for slit in packing.slits:
            cost += self.bins[slit.bin].price * self.rules.cut_price * slit.length
        return cost

    def key(self, packing: Packing) -> tuple[float, float]:
        """The smaller, the better: what is left out first, then money."""
        return sum(self.items[i].area or 1.0 for i in packing.left), packing.cost

    def improve(self, way: Way, best: Packing, tries: int, chance: Chance) -> tuple[Way, Packing]:
        """The better of what is known and a number of variations of it."""
        for _ in range(tries):
            other = self.varied(way, chance)
            packing = self.pack(other, chance)
            if self.key(packing) <= self.key(best):
                way, best = other, packing
        return way, best
