"""One search on a strip: where its pieces lie, and how badly one of them would lie elsewhere."""

# mypy: disable-error-code="no-any-return"
# (what numpy gives back for single numbers is Any to the checker)

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from studio.core.placing.compiled import compiled, woven
from studio.core.placing.separating.kernels import Floats, Ints

from .pairs import BODY, SIZE, Forms, Tables, pair_loss

# places in Strip.bounds: the line now, the best so far, the next step, the metal's x0, y0, y1
LINE, BEST, STEP, LEFT, LOW, HIGH = range(6)
# places in Strip.tally
EVALUATIONS, PHASE, SUCCESSES = range(3)


class Strip(NamedTuple):
    """One search: where the pieces lie and what follows. Everything is changed in place."""

    pose: Floats  # (pieces, 2)
    form: Ints
    box: Floats  # (4, pieces): x0, y0, x1, y1
    loss: Floats  # (pieces, pieces)
    rim_loss: Floats
    weight: Floats
    rim_weight: Floats
    bounds: Floats
    tally: Ints
    best_pose: Floats
    best_form: Ints
    order: Ints
    near: npt.NDArray[np.uint8]  # room for which boxes meet, a multiple of eight
    eights: npt.NDArray[np.uint64]  # the same, eight at a time
    kept: Floats  # room for the best places of a move
    kept_form: Ints
    value: Floats
    spot: Floats


@woven
def rim_loss(forms: Forms, strip: Strip, u: int, x: float, y: float) -> float:
    """How badly a form at (x, y) leaves the metal or passes the line."""
    extent, bounds = forms.extent, strip.bounds
    over = max(0.0, bounds[LEFT] - x - extent[u, BODY])
    over += max(0.0, x + extent[u, BODY + 2] - bounds[LINE])
    over += max(0.0, bounds[LOW] - y - extent[u, BODY + 1])
    over += max(0.0, y + extent[u, BODY + 3] - bounds[HIGH])
    if over <= 0.0:
        return 0.0
    return 2.0 * np.sqrt(over + 0.01 * extent[u, SIZE]) * extent[u, SIZE]


@woven
def evaluate(
    forms: Forms, tables: Tables, strip: Strip, i: int, u: int, x: float, y: float, limit: float
) -> float:
    """The weighted loss of piece i as form u at (x, y); given up as soon as it exceeds `limit`."""
    strip.tally[EVALUATIONS] += 1
    total = strip.rim_weight[i] * rim_loss(forms, strip, u, x, y)
    if total >= limit:
        return total
    meet(forms, strip, i, u, x, y)
    pose, laid, near, eights = strip.pose, strip.form, strip.near, strip.eights
    for k in range(eights.shape[0]):
        if eights[k] == 0:
            continue
        for j in range(8 * k, 8 * k + 8):
            if near[j] == 0:
                continue
            found = pair_loss(forms, tables, u, laid[j], x - pose[j, 0], y - pose[j, 1])
            if found > 0.0:
                total += strip.weight[i, j] * found
                if total >= limit:
                    return total
    return total


@woven
def meet(forms: Forms, strip: Strip, i: int, u: int, x: float, y: float) -> None:
    """Note whose boxes meet that of form u at (x, y), other than piece i's own.

    A plain loop over all, so that it is done many at a time.
    """
    x0, y0 = x + forms.extent[u, 0], y + forms.extent[u, 1]
    x1, y1 = x + forms.extent[u, 2], y + forms.extent[u, 3]
    box, near = strip.box, strip.near
    for j in range(box.shape[1]):
        near[j] = (box[0, j] < x1) & (box[2, j] > x0) & (box[1, j] < y1) & (box[3, j] > y0)
    near[i] = 0


@compiled
def put(forms: Forms, strip: Strip, i: int) -> None:
    """Lay piece i at its pose."""
    u, x, y = strip.form[i], strip.pose[i, 0], strip.pose[i, 1]
    strip.box[0, i], strip.box[1, i] = x + forms.extent[u, 0], y + forms.extent[u, 1]
    strip.box[2, i], strip.box[3, i] = x + forms.extent[u, 2], y + forms.extent[u, 3]


@compiled
def refresh(forms: Forms, tables: Tables, strip: Strip, i: int) -> None:
    """Lay piece i and find its losses against the metal and all others, both ways."""
    put(forms, strip, i)
    pose, laid, loss = strip.pose, strip.form, strip.loss
    u, x, y = laid[i], pose[i, 0], pose[i, 1]
    strip.rim_loss[i] = rim_loss(forms, strip, u, x, y)
    meet(forms, strip, i, u, x, y)
    for j in range(pose.shape[0]):
        found = 0.0
        if strip.near[j] != 0:
            found = pair_loss(forms, tables, u, laid[j], x - pose[j, 0], y - pose[j, 1])
        loss[i, j] = loss[j, i] = found
