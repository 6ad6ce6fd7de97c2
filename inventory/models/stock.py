"""The rack: purchases, the stock pieces they made, every movement, and the scrap boxes."""

from __future__ import annotations

from decimal import Decimal
from typing import Self

from django.db import models
from django.db.models import Q
from django.utils import timezone
from shapely import wkt
from shapely.geometry import MultiPolygon, Polygon

from classroom.models import AppendOnly, School, User
from inventory import metals

from .metal import Metal


class MetalOrder(models.Model):
    """Metal that was ordered and comes in parts; what has come are its purchases."""

    school = models.ForeignKey(School, on_delete=models.PROTECT, related_name="metal_orders")
    ordered_on = models.DateField()
    seller = models.CharField("ordered from", max_length=120, blank=True)
    reference = models.CharField("order number", max_length=60, blank=True)
    ordered_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField(auto_now_add=True)
    closed_at = models.DateTimeField(null=True, blank=True, editable=False)
    closed_why = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["closed_at", "-ordered_on", "-pk"]

    def __str__(self) -> str:
        return f"order of {self.ordered_on.day} {self.ordered_on:%b %Y}"


class MetalOrderLine(models.Model):
    order = models.ForeignKey(MetalOrder, on_delete=models.PROTECT, related_name="lines")
    metal = models.ForeignKey(Metal, on_delete=models.PROTECT, related_name="order_lines")
    count = models.PositiveIntegerField()
    width_mm = models.DecimalField(max_digits=7, decimal_places=2)
    height_mm = models.DecimalField(max_digits=7, decimal_places=2)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(count__gt=0) & Q(width_mm__gt=0) & Q(height_mm__gt=0),
                name="order_line_makes_sense",
            )
        ]

    def __str__(self) -> str:
        return f"{self.count} × {self.metal}"


class Purchase(models.Model):
    school = models.ForeignKey(School, on_delete=models.PROTECT, related_name="purchases")
    bought_on = models.DateField()
    seller = models.CharField("bought from", max_length=120, blank=True)
    reference = models.CharField("receipt or order number", max_length=60, blank=True)
    recorded_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField(auto_now_add=True)
    freight = models.DecimalField(max_digits=9, decimal_places=2, default=Decimal(0))
    tax = models.DecimalField(max_digits=9, decimal_places=2, default=Decimal(0))
    order = models.ForeignKey(
        MetalOrder, null=True, blank=True, on_delete=models.PROTECT, related_name="purchases"
    )

    class Meta:
        ordering = ["-bought_on", "-pk"]

    def __str__(self) -> str:
        return f"purchase of {self.bought_on.day} {self.bought_on:%b %Y}"


class PurchaseLine(models.Model):
    purchase = models.ForeignKey(Purchase, on_delete=models.PROTECT, related_name="lines")
    metal = models.ForeignKey(Metal, on_delete=models.PROTECT, related_name="purchase_lines")
    count = models.PositiveIntegerField()
    width_mm = models.DecimalField(max_digits=7, decimal_places=2)
    height_mm = models.DecimalField(max_digits=7, decimal_places=2)
    total = models.DecimalField(
        "cost of the line",
        max_digits=9,
        decimal_places=2,
        help_text="Price with its share of freight and tax; split to the cent among the sheets.",
    )
    extras = models.DecimalField(
        "share of freight and tax", max_digits=9, decimal_places=2, default=Decimal(0)
    )
    weight_g = models.DecimalField(
        "weight of all its sheets", max_digits=9, decimal_places=2, null=True, blank=True
    )
    order_line = models.ForeignKey(
        MetalOrderLine, null=True, blank=True, on_delete=models.PROTECT, related_name="receipts"
    )

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                # No sheets: the line was entered by mistake, and costs nothing.
                condition=(Q(count__gt=0) | Q(count=0, total=0))
                & Q(width_mm__gt=0)
                & Q(height_mm__gt=0)
                & Q(total__gte=0),
                name="purchase_line_makes_sense",
            )
        ]

    def __str__(self) -> str:
        return f"{self.count} × {self.metal}"

    @property
    def price(self) -> Decimal:
        """What the seller asked for the line, before freight and tax."""
        return self.total - self.extras


class PurchaseCorrection(AppendOnly):
    """What was wrong with a purchase (no line) or with one of its lines, and what is right.

    The purchase's own rows say what is right; this row keeps what they said before. `before` and
    `after` hold only what changed, by field name, as text. `kept` is what pieces that are in use
    or used up would have cost more (or, below nothing, less): they keep the cost they had.
    """

    purchase = models.ForeignKey(Purchase, on_delete=models.PROTECT, related_name="corrections")
    line = models.ForeignKey(
        PurchaseLine, null=True, blank=True, on_delete=models.PROTECT, related_name="corrections"
    )
    before = models.JSONField()
    after = models.JSONField()
    kept = models.DecimalField(max_digits=9, decimal_places=2, default=Decimal(0))
    reason = models.CharField(max_length=200)
    actor = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="purchase_correction_has_a_reason")
        ]

    def __str__(self) -> str:
        return f"correction of {self.purchase}"


class LabelSeries(models.Model):
    """The last number given to a label such as CU-0.81-003, so that no two are alike."""

    school = models.ForeignKey(School, on_delete=models.PROTECT, related_name="label_series")
    prefix = models.CharField(max_length=16)
    last = models.PositiveIntegerField(default=0)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["school", "prefix"], name="one_series_per_prefix")
        ]

    def __str__(self) -> str:
        return f"{self.prefix}, {self.last} given"


class StockPieceQuerySet(models.QuerySet["StockPiece"]):
    def on_the_rack(self) -> Self:
        """Pieces that are there to be planned on: neither reserved, issued nor gone."""
        return self.filter(state=StockPiece.State.RACK)

    def of(self, metal: Metal) -> Self:
        return self.filter(metal=metal)

    def at_least_wide(self, width_mm: Decimal) -> Self:
        """Pieces whose narrower side (of the upright box around them) has that width."""
        return self.filter(width_mm__gte=width_mm, height_mm__gte=width_mm)

    def at_least_long(self, length_mm: Decimal) -> Self:
        """Pieces whose longer side has that length."""
        return self.filter(Q(width_mm__gte=length_mm) | Q(height_mm__gte=length_mm))


class StockPiece(models.Model):
    """One physical piece of metal with its true outline (WKT, mm, lower left near the origin)."""

    class Kind(models.TextChoices):
        SHEET = "sheet", "full sheet"
        OFFCUT = "offcut", "offcut"

    class State(models.TextChoices):
        RACK = "rack", "on the rack"
        RESERVED = "reserved", "reserved for a cut plan"
        ISSUED = "issued", "handed out"
        GONE = "gone", "used up"

    school = models.ForeignKey(School, on_delete=models.PROTECT, related_name="stock_pieces")
    metal = models.ForeignKey(Metal, on_delete=models.PROTECT, related_name="stock_pieces")
    code = models.CharField("label code", max_length=24)
    kind = models.CharField(max_length=6, choices=Kind)
    state = models.CharField(max_length=8, choices=State, default=State.RACK)
    outline = models.TextField(help_text="Well-known text, millimetres.")
    area_mm2 = models.DecimalField(max_digits=12, decimal_places=2)
    # The box around the outline, so that lists can ask how wide a piece is without reading it.
    width_mm = models.DecimalField(max_digits=7, decimal_places=2, editable=False)
    height_mm = models.DecimalField(max_digits=7, decimal_places=2, editable=False)
    cost = models.DecimalField(max_digits=9, decimal_places=2)
    clean_edges = models.BooleanField(
        "straight edges are clean",
        default=True,
        help_text="Clean edges need no sawing; a pattern may lie on them.",
    )
    rough_edges = models.TextField(
        blank=True,
        help_text="Stretches of the outline that are rough where the rest is clean: "
        "well-known text, millimetres.",
    )
    measured_mm = models.DecimalField(
        "caliper reading (mm)", max_digits=6, decimal_places=3, null=True, blank=True
    )
    place = models.CharField("where it lies", max_length=60, blank=True)
    parent = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="offcuts"
    )
    purchase_line = models.ForeignKey(
        PurchaseLine,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="stock_pieces",
    )
    received_at = models.DateTimeField(default=timezone.now)

    objects = StockPieceQuerySet.as_manager()

    class Meta:
        ordering = ["metal__alloy_code", "metal__thickness_mm", "kind", "code"]
        constraints = [
            models.UniqueConstraint(fields=["school", "code"], name="one_stock_piece_per_code"),
            models.CheckConstraint(
                condition=Q(area_mm2__gt=0) & Q(cost__gte=0), name="stock_piece_makes_sense"
            ),
            models.CheckConstraint(
                condition=Q(clean_edges=True) | Q(rough_edges=""),
                name="rough_edges_only_beside_clean_ones",
            ),
        ]
        indexes = [models.Index(fields=["school", "state", "metal"])]

    def __str__(self) -> str:
        return self.code

    @property
    def polygon(self) -> Polygon | MultiPolygon:
        shape = wkt.loads(self.outline)
        assert isinstance(shape, Polygon | MultiPolygon)
        return shape

    @property
    def price_per_mm2(self) -> Decimal:
        return self.cost / self.area_mm2

    @property
    def mass_g(self) -> float:
        return self.metal.mass_g(self.area_mm2)


class StockMovement(AppendOnly):
    """What happened to a stock piece, and by how much the school's metal grew or shrank with it.

    Area and cost of all its movements together are those of the piece while the school has it,
    and nothing once it is gone: `inventory.auditing` proves the rack from these rows alone.
    """

    class Kind(models.TextChoices):
        RECEIVE = "receive", "received"
        RESERVE = "reserve", "reserved"
        RELEASE = "release", "released"
        ISSUE = "issue", "handed out"
        RETURN = "return", "brought back"
        CUT = "cut", "cut up"
        SCRAP = "scrap", "scrapped"
        CORRECT = "correct", "record corrected"
        STRIKE = "strike", "struck off"
        MISSING = "missing", "not found at a count"
        FOUND = "found", "found again at a count"

    stock_piece = models.ForeignKey(StockPiece, on_delete=models.PROTECT, related_name="movements")
    kind = models.CharField(max_length=8, choices=Kind)
    at = models.DateTimeField(default=timezone.now)
    actor = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    reason = models.CharField(max_length=200)
    cause = models.CharField(max_length=60, blank=True, help_text="The plan that caused it.")
    area_mm2 = models.DecimalField(max_digits=12, decimal_places=2, default=Decimal(0))
    cost = models.DecimalField(max_digits=9, decimal_places=2, default=Decimal(0))

    class Meta:
        ordering = ["at", "pk"]
        indexes = [models.Index(fields=["cause"])]

    def __str__(self) -> str:
        return f"{self.stock_piece} {self.get_kind_display()}"


class ScrapEntry(AppendOnly):
    """Scrap weighed into its alloy's box; a correction is a row with a negative mass."""

    school = models.ForeignKey(School, on_delete=models.PROTECT, related_name="scrap_entries")
    alloy_code = models.CharField(max_length=16)
    mass_g = models.DecimalField(max_digits=9, decimal_places=2)
    at = models.DateTimeField(default=timezone.now)
    actor = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    reason = models.CharField(max_length=200)
    cause = models.CharField(max_length=60, blank=True)

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{self.mass_g} g of {self.alloy_code}"

    @property
    def alloy(self) -> metals.Alloy:
        return metals.alloy(self.alloy_code)

    @property
    def is_correction(self) -> bool:
        """Whether this row makes up for another weighing, which its cause names.

        Where nothing was weighed when a plan was closed, no weighing can be named: the plan's
        return is.
        """
        return self.cause.startswith((f"{self._meta.model_name}:", "return:"))
