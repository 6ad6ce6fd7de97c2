"""Which neater lines are worth offering: tried out on the whole drawing, none makes it worse."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence

import numpy as np
import shapely
from shapely.geometry import LinearRing, LineString

from studio.core.checking import check
from studio.core.correcting import CannotChange, Redraw, corrected
from studio.core.drawing import Drawing, Finding, Limits, Piece, Weight
from studio.core.reading import Assembly, Label, Line, Tracing, assemble
from studio.core.reading.tracing import Point, Round

from . import thresholds
from .drafts import Draft, drafts
from .hands import on_paper
from .mend import Mend, Stroke
from .neighbours import ComesApart, followers
from .ways import Points, Way

_LABELS = (Label.OUTLINE, Label.WINDOW, Label.SURFACE)
_NARROWER_MM = 0.05  # a stop that was there may not grow by more than this
_SAME_AREA = 0.15


def mends(
    tracing: Tracing,
    relabels: Mapping[str, str],
    limits: Limits,
    by_hand: Collection[str] = (),
) -> tuple[Mend, ...]:
    """What could be drawn more neatly, grouped by line, the longest lines first.

    `relabels` are the student's names for lines, `limits` the brief's; `by_hand` are the ids of
    lines that a hand drew though the file is no picture (mended ones, which tremble no more).
    Never raises for a tracing that a reader made. The work is bounded by counts, so the same
    drawing always gets the same answer.
    """
    trial = Trial(tracing, relabels, limits)
    paper = on_paper(tracing.source)
    found: list[Mend] = []
    for way in _looked_at(tracing, trial.assembly.labels):
        for draft in drafts(way, by_hand=paper or way.line.id in by_hand):
            if trial.spent or len(found) >= thresholds.MOST_MENDS:
                return tuple(found)
            mend = _offer(trial, way, draft)
            if mend is not None:
                found.append(mend)
    return tuple(found)


def is_quick(tracing: Tracing) -> bool:
    """Whether looking for mends takes no longer than anybody notices."""
    return sum(len(line.points) for line in tracing.lines) <= thresholds.LITTLE_POINTS


def together(
    tracing: Tracing, relabels: Mapping[str, str], limits: Limits, wanted: Sequence[Mend]
) -> tuple[Mend, ...]:
    """As many of the wanted mends, first come first served, as can be done at once.

    A line that one of them redraws is left alone by the next; what only all of them together
    would spoil is left out.
    """
    trial = Trial(tracing, relabels, limits)
    taken: list[Mend] = []
    for mend in wanted:
        redrawn = {change.line for each in taken for change in each.changes}
        if not redrawn & {change.line for change in mend.changes}:
            taken.append(mend)
    while len(taken) > 1 and not trial.bears(change for each in taken for change in each.changes):
        taken.pop()
    return tuple(taken)


def _looked_at(tracing: Tracing, labels: Mapping[str, Label]) -> list[Way]:
    ways = [
        Way(line)
        for line in tracing.lines
        if labels.get(line.id) in _LABELS and 2 <= len(line.points) <= thresholds.MOST_POINTS
    ]
    ways = [way for way in ways if way.length >= thresholds.LEAST_LINE_MM]
    ways.sort(key=lambda way: -way.length)
    return [
        way for way in ways[: thresholds.MOST_LINES] if not way.closed or way.line.polygon.is_valid
    ]


class Trial:
    """Puts the drawing together with changed lines and says whether it is as sound as before."""

    def __init__(self, tracing: Tracing, relabels: Mapping[str, str], limits: Limits) -> None:
        self.tracing = tracing
        self.relabels = relabels
        self.limits = limits
        self.assembly = assemble(tracing, relabels)
        self._points = sum(len(line.points) for line in tracing.lines)
        self._left = float(thresholds.MOST_WORK)
        self._known: dict[str, tuple[Finding, ...]] = {}

    @property
    def spent(self) -> bool:
        return self._left <= 0

    def bears(self, changes: Iterable[Redraw]) -> bool:
        """Whether every line stays what it is, pieces keep their windows, and no stop is new."""
        self._left -= max(self._points, 500) / 10
        try:
            changed = corrected(self.tracing, list(changes))
        except CannotChange:
            return False
        after = assemble(changed, self.relabels)
        if after.labels != self.assembly.labels or after.pieces_of != self.assembly.pieces_of:
            return False
        if _worse(self.assembly.findings, after.findings, all_weights=True):
            return False
        return self._pieces_as_sound(after)

    def _pieces_as_sound(self, after: Assembly) -> bool:
        before = self.assembly.drawing.pieces
        if len(before) != len(after.drawing.pieces):
            return False
        touched = []
        for one, other in zip(before, after.drawing.pieces, strict=True):
            if len(one.outline.interiors) != len(other.outline.interiors):
                return False
            if not other.outline.is_valid:
                return False
            if one != other:
                touched.append((one, other))
        for one, other in touched:
            size = _corners_of(other)
            if size > thresholds.MOST_PIECE_POINTS or self.spent:
                return False  # measuring it would take too long to be sure
            self._left -= size + size**2 / 1000
            if one.id not in self._known:
                self._known[one.id] = check(Drawing((one,)), self.limits)
            if _worse(self._known[one.id], check(Drawing((other,)), self.limits)):
                return False
        return not _overlap_more(before, after.drawing.pieces, [one.id for one, _ in touched])


def _worse(
    before: Iterable[Finding], after: Iterable[Finding], *, all_weights: bool = False
) -> bool:
    """Whether some kind of stop has become more frequent, or is further beyond its limit."""
    old = [each for each in before if all_weights or each.weight is Weight.STOP]
    new = [each for each in after if all_weights or each.weight is Weight.STOP]
    if Counter(each.code for each in new) - Counter(each.code for each in old):
        return True
    for code in {each.code for each in new}:
        past_old = [_past(each) for each in old if each.code == code]
        if max(_past(each) for each in new if each.code == code) > max(past_old) + _NARROWER_MM:
            return True
    return False


def _past(finding: Finding) -> float:
    """How far beyond its limit the measured value is."""
    if finding.value_mm is None or finding.limit_mm is None:
        return 0.0
    return abs(finding.limit_mm - finding.value_mm)


def _corners_of(piece: Piece) -> int:
    rings = (piece.outline.exterior, *piece.outline.interiors)
    return sum(len(ring.coords) for ring in rings)


def _overlap_more(before: tuple[Piece, ...], after: tuple[Piece, ...], touched: list[str]) -> bool:
    """Whether a piece that has moved lies on another one that it left free before."""
    if not touched or len(after) < 2:
        return False
    tree = shapely.STRtree([piece.outline for piece in after])
    places = {piece.id: index for index, piece in enumerate(after)}
    for piece_id in touched:
        index = places[piece_id]
        for other in tree.query(after[index].outline, "intersects").tolist():
            if other == index:
                continue
            shared = after[index].outline.intersection(after[other].outline).area
            had = before[index].outline.intersection(before[other].outline).area
            if shared > had + 1e-3 * after[index].outline.length:
                return True
    return False


def _offer(trial: Trial, way: Way, draft: Draft) -> Mend | None:
    points = np.round(draft.points, 6) + 0.0
    line = way.line
    drawn = LinearRing(points) if way.closed else LineString(points)
    if not drawn.is_simple or (way.closed and not _about_as_large(way, points)):
        return None
    moved, at = _moved(way, points, drawn)
    if not draft.least_mm <= moved <= draft.most_mm:
        return None
    try:
        beside = followers(trial.tracing.lines, way, points)
    except ComesApart:
        return None
    why = f"mend-{draft.code}"
    changes = [
        _redraw(line, points, draft.round, why),
        *(_redraw(other, theirs, None, "mend-follows") for other, theirs in beside),
    ]
    if not trial.bears(changes):
        if draft.round is None:
            return None
        # As a true circle it would be drilled, or the other way round: then only as round.
        changes[0] = _redraw(line, points, None, why)
        if not trial.bears(changes):
            return None
    return Mend(
        draft.code,
        (line.id,),
        draft.sentence,
        draft.deed,
        draft.done,
        round(moved, 3),
        at,
        tuple(changes),
        tuple(_stroke(each, each.points) for each in (line, *(other for other, _ in beside))),
        tuple(Stroke(change.line, change.points, change.closed) for change in changes),
    )


def _redraw(line: Line, points: Points, circle: Round | None, why: str) -> Redraw:
    return Redraw(
        line.id,
        tuple((round(float(x), 6) + 0.0, round(float(y), 6) + 0.0) for x, y in points),
        line.closed,
        circle,
        why,
    )


def _stroke(line: Line, points: Iterable[Point]) -> Stroke:
    return Stroke(line.id, tuple(points), line.closed)


def _about_as_large(way: Way, points: Points) -> bool:
    before = float(way.line.polygon.area)
    return abs(float(shapely.Polygon(points).area) - before) <= _SAME_AREA * before


def _moved(way: Way, points: Points, drawn: LineString) -> tuple[float, Point]:
    """How far the line moves at most, and where on the old one."""
    steps = max(thresholds.STEP_MM, way.length / thresholds.MOST_STEPS)
    old = shapely.get_coordinates(shapely.segmentize(way.line.linework, steps))
    away = shapely.distance(shapely.points(old), drawn)
    new = shapely.get_coordinates(shapely.segmentize(drawn, steps))
    back = shapely.distance(shapely.points(new), way.line.linework)
    far = int(away.argmax())
    most = max(float(away.max()), float(back.max()))
    place = old[far] if float(away.max()) >= float(back.max()) else new[int(back.argmax())]
    return most, (float(place[0]), float(place[1]))


__all__ = ["is_quick", "mends", "together"]
