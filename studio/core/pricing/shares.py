"""What each project pays for its part of a cut plan, in whole cents that add up.

The rule, in a student's words: you pay for the metal in your pieces; the metal that the plan
uses up beyond the pieces (saw cuts, and scraps too small to use again) is shared by all projects
on the plan in proportion to the area of their pieces; blades, drills, abrasive and adhesive are
paid by how much you saw, drill and prepare. Cents are handed out by largest remainder, so that
the lines add up to the totals, and the totals to what the metal costs.

Pure: areas in mm², lengths in mm, money as Decimal in the school's currency.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum
from fractions import Fraction

from classroom.figures.rounding import plain
from studio.core.cutting.job import Job, Placement, Plan

CENT = Decimal("0.01")
NOTHING = Decimal("0.00")
MM2_PER_CM2 = Decimal(100)
MM_PER_CM = Decimal(10)


class WasteRule(StrEnum):
    """Who pays for the metal that is used up beyond the pieces."""

    SHARED = "shared"  # the projects, in proportion to the area of their pieces
    SCHOOL = "school"  # nobody: the course's budget bears it, shown as a line of its own
    RECTANGLE = "rectangle"  # each project pays those around its pieces; the course the rest

    @classmethod
    def _missing_(cls, value: object) -> WasteRule | None:
        return cls.RECTANGLE if value == "blank" else None  # as quotes of earlier days say it


RECTANGLE_ALLOWANCE_MM = 3.0
"""Added to both sides of the rectangle around a piece: common practice, no source."""


@dataclass(frozen=True, slots=True)
class MetalUse:
    """What a plan does to one stock piece: price per mm², what is consumed, and by whom.

    `consumed_mm2` is the metal's area less its offcuts; `pieces_mm2` gives each project's net
    piece area on it (outlines less windows), by a stable id, and `rectangles_mm2` that of the
    rectangles around its pieces, which only the rule `RECTANGLE` asks for.
    """

    metal: str
    price_per_mm2: Decimal
    consumed_mm2: Decimal
    pieces_mm2: Mapping[str, Decimal]
    rectangles_mm2: Mapping[str, Decimal] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class BenchUse:
    """What one project uses at the bench."""

    saw_line_mm: Decimal = Decimal(0)
    prepared_mm2: Decimal = Decimal(0)  # metal surface that is abraded and covered with adhesive
    holes: int = 0


@dataclass(frozen=True, slots=True)
class Rates:
    """Prices of consumables, the teacher's own. Zero leaves a line out."""

    blades_per_cm: Decimal = Decimal(0)
    abrasive_per_cm2: Decimal = Decimal(0)
    adhesive_per_cm2: Decimal = Decimal(0)
    adhesive_per_project: Decimal = Decimal(0)
    drill_per_hole: Decimal = Decimal(0)


@dataclass(frozen=True, slots=True)
class CostPolicy:
    """How the costs of a plan are passed on."""

    waste: WasteRule = WasteRule.SHARED
    consumables: bool = True


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a quote: a short code that never changes, words, and whole cents."""

    code: str
    text: str
    amount: Decimal


@dataclass(frozen=True, slots=True)
class ProjectQuote:
    """What one project pays. The lines add up to the total."""

    project: str
    lines: tuple[Line, ...]

    @property
    def total(self) -> Decimal:
        return sum((line.amount for line in self.lines), NOTHING)

    @property
    def metal(self) -> Decimal:
        """Metal in the pieces and share of the waste together."""
        return sum((line.amount for line in self.lines if line.code in METAL_LINES), NOTHING)


@dataclass(frozen=True, slots=True)
class Quote:
    """All projects of a plan, what the school bears, and the cost of the metal consumed.

    Below zero the school's share is what rectangles brought beyond the metal's cost.

    Always: the projects' metal and the school's share add up to `metal` to the cent.
    """

    projects: tuple[ProjectQuote, ...]
    school: Decimal
    metal: Decimal

    @property
    def total(self) -> Decimal:
        return sum((project.total for project in self.projects), self.school)


METAL_LINES = frozenset({"metal", "waste"})


def to_the_cent(amount: Decimal) -> Decimal:
    """Rounded to whole cents, halves away from zero as on a till."""
    return amount.quantize(CENT, rounding=ROUND_HALF_UP)


def share_to_the_cent(total: Decimal, weights: Mapping[str, Decimal]) -> dict[str, Decimal]:
    """`total` (rounded to whole cents) divided in proportion to the weights, adding up exactly.

    Every share is rounded down to a cent, and the cents that are left go to the largest
    remainders; among equal remainders to the id that sorts first. When all weights are zero the
    shares are equal. Raises ValueError for a negative or unusable weight, or for nobody to
    share a total that is not zero.
    """
    total = to_the_cent(total)
    for name, weight in weights.items():
        if not weight.is_finite() or weight < 0:
            raise ValueError(f"the weight of {name!r} is not zero or more")
    if not weights:
        if total:
            raise ValueError("there is nobody to share with")
        return {}
    if total < 0:
        return {name: -share for name, share in share_to_the_cent(-total, weights).items()}
    whole = sum((Fraction(weight) for weight in weights.values()), Fraction(0))
    cents = int(total / CENT)
    shares: dict[str, int] = {}
    remainders: list[tuple[Fraction, str]] = []
    for name, weight in weights.items():  # in fractions: a rounded quotient could gain a cent
        part = Fraction(weight) / whole if whole else Fraction(1, len(weights))
        exact = cents * part
        shares[name] = math.floor(exact)
        remainders.append((shares[name] - exact, name))
    for _, name in sorted(remainders)[: cents - sum(shares.values())]:
        shares[name] += 1
    return {name: CENT * share for name, share in shares.items()}


def quote(
    metals: Sequence[MetalUse],
    bench: Mapping[str, BenchUse],
    rates: Rates,
    policy: CostPolicy | None = None,
) -> Quote:
    """The quote of a plan: for each project of `bench` (by stable id) its lines in whole cents.

    What a stock piece's offcuts take back to the rack costs nobody. The cost of the metal consumed
    is rounded to the cent once per plan, then divided: first between the
    pieces' metal and the waste, then among the projects. Raises ValueError where a metal names
    a project that `bench` does not, or areas or prices are negative.
    """
    policy = policy or CostPolicy()
    piece_value = dict.fromkeys(sorted(bench), Decimal(0))
    waste_value = Decimal(0)
    area = dict.fromkeys(sorted(bench), Decimal(0))
    for use in metals:
        own = sum(use.pieces_mm2.values(), Decimal(0))
        if use.price_per_mm2 < 0 or use.consumed_mm2 < 0:
            raise ValueError(f"{use.metal}: price and area must be zero or more")
        waste_value += max(Decimal(0), use.consumed_mm2 - own) * use.price_per_mm2
        for project, net in use.pieces_mm2.items():
            if project not in piece_value:
                raise ValueError(f"{use.metal}: the project {project!r} is not on the quote")
            if net < 0:
                raise ValueError(f"{use.metal}: the area of {project!r} is negative")
            piece_value[project] += net * use.price_per_mm2
            area[project] += net
    pieces_total = sum(piece_value.values(), Decimal(0))
    metal = to_the_cent(pieces_total + waste_value)
    in_pieces = min(to_the_cent(pieces_total), metal)
    waste = metal - in_pieces
    metal_shares = share_to_the_cent(in_pieces, piece_value)
    if policy.waste is WasteRule.SHARED and bench:
        waste_shares, school = share_to_the_cent(waste, area), NOTHING
    else:
        waste_shares, school = dict.fromkeys(piece_value, NOTHING), waste
    words = "Metal in your pieces"
    if policy.waste is WasteRule.RECTANGLE:
        rectangles = _rectangle_values(metals, piece_value)
        in_rectangles = to_the_cent(sum(rectangles.values(), Decimal(0)))
        metal_shares = share_to_the_cent(in_rectangles, rectangles)
        school = metal - sum(metal_shares.values(), NOTHING)
        words = "Rectangles around your pieces"
    projects = []
    for project in piece_value:
        lines = [Line("metal", words, metal_shares[project])]
        if policy.waste is WasteRule.SHARED:
            lines.append(
                Line("waste", "Your share of the waste (kerf and scrap)", waste_shares[project])
            )
        if policy.consumables:
            lines.extend(consumable_lines(bench[project], rates))
        projects.append(ProjectQuote(project, tuple(lines)))
    return Quote(tuple(projects), school, metal)


def _rectangle_values(metals: Sequence[MetalUse], projects: Collection[str]) -> dict[str, Decimal]:
    """What each project's rectangles are worth at the price of the metal they lie on."""
    value = dict.fromkeys(projects, Decimal(0))
    for use in metals:
        for project, area in use.rectangles_mm2.items():
            if project not in value or area < 0:
                raise ValueError(f"{use.metal}: the rectangles of {project!r} make no sense")
            value[project] += area * use.price_per_mm2
    return value


def rectangle_areas(job: Job, placements: Iterable[Placement]) -> dict[str, dict[str, Decimal]]:
    """By stock piece and group: area of the rectangles around the pieces as they are drawn.

    Each side is longer by `RECTANGLE_ALLOWANCE_MM`. How a piece was turned on the metal makes no
    difference: nobody chooses that.
    """
    found: dict[str, dict[str, Decimal]] = {}
    for placed in placements:
        wanted = job.wanted_by_id[placed.piece]
        x0, y0, x1, y1 = wanted.outline.bounds
        area = to_the_mm((x1 - x0 + RECTANGLE_ALLOWANCE_MM) * (y1 - y0 + RECTANGLE_ALLOWANCE_MM))
        on_metal = found.setdefault(placed.metal, {})
        name = wanted.group or wanted.id
        on_metal[name] = on_metal.get(name, Decimal(0)) + area
    return found


def waste_areas(metals: Sequence[MetalUse], projects: Collection[str]) -> dict[str, Decimal]:
    """Each project's share in mm² of what the plan uses up beyond the pieces.

    The same rule as for the money in `quote`: everybody bears the same fraction of the whole
    plan's waste that they have of its piece area, whichever stock piece they lie on; equal
    shares when nobody has any area.
    """
    area = dict.fromkeys(projects, Decimal(0))
    waste = Decimal(0)
    for use in metals:
        own = sum(use.pieces_mm2.values(), Decimal(0))
        waste += max(Decimal(0), use.consumed_mm2 - own)
        for project, net in use.pieces_mm2.items():
            area[project] += net
    whole = sum(area.values(), Decimal(0))
    if not whole:
        return dict.fromkeys(area, waste / (len(area) or 1))
    return {project: waste * net / whole for project, net in area.items()}


def consumable_lines(use: BenchUse, rates: Rates) -> list[Line]:
    """Blades, drills, abrasive and adhesive of one project; a line that is nothing is left out."""
    saw_cm = use.saw_line_mm / MM_PER_CM
    prepared_cm2 = use.prepared_mm2 / MM2_PER_CM2
    lines = [
        Line(
            "blades", f"Saw blades, {plain(saw_cm, 0)} cm of sawing", saw_cm * rates.blades_per_cm
        ),
        Line(
            "drill",
            f"Drill bits, {use.holes} hole{'' if use.holes == 1 else 's'}",
            use.holes * rates.drill_per_hole,
        ),
        Line(
            "abrasive",
            f"Abrasive paper, {plain(prepared_cm2, 0)} cm²",
            prepared_cm2 * rates.abrasive_per_cm2,
        ),
        Line(
            "adhesive",
            "Adhesive for the pattern",
            prepared_cm2 * rates.adhesive_per_cm2 + rates.adhesive_per_project,
        ),
    ]
    rounded = [Line(line.code, line.text, to_the_cent(line.amount)) for line in lines]
    return [line for line in rounded if line.amount]


def metal_uses(job: Job, plan: Plan, prices: Mapping[str, Decimal]) -> list[MetalUse]:
    """What a plan does to each stock piece that it touches, by the job's groups.

    `prices` gives the exact price per mm² of every metal touched; a piece without a group counts
    as a project of its own, by the piece's id. Areas are to a thousandth of a mm².
    """
    uses = []
    for metal in job.metal:
        pieces: dict[str, Decimal] = {}
        for placement in plan.placements:
            if placement.metal == metal.id:
                wanted = job.wanted_by_id[placement.piece]
                name = wanted.group or wanted.id
                pieces[name] = pieces.get(name, Decimal(0)) + to_the_mm(wanted.outline.area)
        if pieces:
            kept = sum(o.outline.area for o in plan.offcuts if o.metal == metal.id)
            consumed = to_the_mm(metal.outline.area - kept)
            uses.append(MetalUse(metal.id, prices[metal.id], consumed, pieces))
    return uses


def to_the_mm(value: float) -> Decimal:
    """A length or area as Decimal, to a thousandth."""
    return Decimal(value).quantize(Decimal("0.001"))
