"""What every search by overlap keeps of its conflicts: losses, weights that rise, whose turn it is.

The same for poses on any metal (`kernels.Lane`) and on tables (`Strip` of `strips.kernels`).
"""

# mypy: disable-error-code="no-any-return"
# (what numpy gives back for single numbers is Any to the checker)

from __future__ import annotations

from typing import Protocol

import numpy as np

from studio.core.placing.compiled import compiled, woven

from .kernels import Floats, Ints


class OverlapSearch(Protocol):
    """Pieces as they lie; everything is changed in place."""

    @property
    def loss(self) -> Floats: ...  # (pieces, pieces)
    @property
    def rim_loss(self) -> Floats: ...
    @property
    def weight(self) -> Floats: ...  # (pieces, pieces)
    @property
    def rim_weight(self) -> Floats: ...
    @property
    def order(self) -> Ints: ...


@compiled
def copy_plan(pose: Floats, kind: Ints, to_pose: Floats, to_kind: Ints) -> None:
    """Copy poses and what has them; item by item, as a slice would be an array made here."""
    for i in range(pose.shape[0]):
        for k in range(pose.shape[1]):
            to_pose[i, k] = pose[i, k]
        to_kind[i] = kind[i]


@compiled
def total_loss(search: OverlapSearch) -> float:
    """All overlaps together, each once."""
    total = 0.0
    for i in range(search.rim_loss.shape[0]):
        total += search.rim_loss[i]
        for j in range(i):
            total += search.loss[i, j]
    return total


@woven
def in_conflict(search: OverlapSearch, i: int) -> bool:
    """Whether piece i overlaps another, or leaves the metal."""
    if search.rim_loss[i] > 0.0:
        return True
    found = False
    for j in range(search.rim_loss.shape[0]):
        found = found or search.loss[i, j] > 0.0
    return found


@compiled
def shuffle_conflicts(search: OverlapSearch) -> int:
    """Write the pieces in conflict to the search's order, at random; how many they are."""
    order = search.order
    count = 0
    for i in range(search.rim_loss.shape[0]):
        if in_conflict(search, i):
            order[count] = i
            count += 1
    for a in range(count - 1, 0, -1):
        b = np.random.randint(0, a + 1)
        order[a], order[b] = order[b], order[a]
    return count


@compiled
def forget_weights(search: OverlapSearch) -> None:
    """Nothing is held against anybody any more."""
    for i in range(search.rim_weight.shape[0]):
        search.rim_weight[i] = 1.0
        for j in range(search.rim_weight.shape[0]):
            search.weight[i, j] = 1.0


@compiled
def raise_weights(search: OverlapSearch) -> None:
    """Make what still overlaps dearer, the worst most, and let the rest fade."""
    n = search.rim_loss.shape[0]
    worst = 1e-300
    for i in range(n):
        worst = max(worst, search.rim_loss[i])
        for j in range(i):
            worst = max(worst, search.loss[i, j])
    for i in range(n):
        if search.rim_loss[i] > 0.0:
            search.rim_weight[i] *= 1.2 + 0.8 * search.rim_loss[i] / worst
        else:
            search.rim_weight[i] = max(1.0, search.rim_weight[i] * 0.95)
        for j in range(i):
            if search.loss[i, j] > 0.0:
                w = search.weight[i, j] * (1.2 + 0.8 * search.loss[i, j] / worst)
            else:
                w = max(1.0, search.weight[i, j] * 0.95)
            search.weight[i, j] = search.weight[j, i] = min(w, 1e12)
