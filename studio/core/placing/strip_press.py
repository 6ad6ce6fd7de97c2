"""All pieces of a strip moved at once, towards its left end as far as they let each other.

A search that moves one piece at a time cannot make room by moving ten of them a little. A linear
program can: every two convex parts that are near each other must stay on their sides of a line
between them, and the strip's length is made least. After the compaction of Li & Milenkovic 1995
(European Journal of Operational Research 84, 539-561; cited from memory); HiGHS solves the
program.
"""

# mypy: disable-error-code="no-any-return"
# (what numpy gives back for single numbers is Any to the checker)

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import csr_array

from studio.core.placing.compiled import compiled
from studio.core.placing.conflicts import total_loss
from studio.core.placing.kernels import Floats, Ints
from studio.core.placing.narrowing import FRESH, NEW, Hunt
from studio.core.placing.strip_kernels import BEST, HIGH, LEFT, LINE, LOW, PHASE, SUCCESSES, Strip
from studio.core.placing.strip_moves import furthest, lay_all
from studio.core.placing.strip_pairs import BODY, SIZE, Forms, Tables
from studio.core.placing.strip_parts import Parts

NEAR = 0.02  # parts no further apart, by the strip's length, keep to their sides
MOST_MOVED = NEAR / 3.0  # in one step, so that two parts further apart cannot meet
CLEAR_MM = 1e-6  # from the metal's rim, so that the last digit says nothing
STEPS = 6
WORTH = 1e-5  # a step that saves less of the length is the last
MOST_ROWS = 6_000
# overlaps that a program may well move apart: their loss, by the pieces' mean width to the 1.5
SMALL = 0.2


class Rows(NamedTuple):
    """Room for the program's rows: normal · (pose of i - pose of j) is at least `least`."""

    pair: Ints  # (rows, 2)
    normal: Floats  # (rows, 2)
    least: Floats


@compiled
def side(
    parts: Parts, a: int, b: int, dx: float, dy: float, rows: Rows, at: int, near: float
) -> bool:
    """Write the line that parts a and b, shifted by (dx, dy) from it, are furthest apart by.

    False where they are further apart than `near`.
    """
    corner, outward = parts.corner, parts.outward
    best = -np.inf
    for turn in range(2):
        own, other = (a, b) if turn == 0 else (b, a)
        sign = -1.0 if turn == 0 else 1.0
        for k in range(parts.corner_at[own], parts.corner_at[own + 1]):
            nx, ny = outward[k, 0], outward[k, 1]
            nearest = np.inf
            for m in range(parts.corner_at[other], parts.corner_at[other + 1]):
                nearest = min(nearest, nx * corner[m, 0] + ny * corner[m, 1])
            least = nx * corner[k, 0] + ny * corner[k, 1] - nearest
            apart = sign * (nx * dx + ny * dy) - least
            if apart > best:
                best = apart
                if apart > near:
                    return False
                rows.normal[at, 0], rows.normal[at, 1] = sign * nx, sign * ny
                rows.least[at] = least
    return True


@compiled
def sides(forms: Forms, parts: Parts, pose: Floats, form: Ints, rows: Rows, near: float) -> int:
    """Write the rows for all parts near each other; how many, or -1 where there is no room."""
    extent, box = forms.extent, parts.box
    count = 0
    for i in range(form.shape[0]):
        u = form[i]
        for j in range(i):
            v = form[j]
            dx, dy = pose[i, 0] - pose[j, 0], pose[i, 1] - pose[j, 1]
            if extent[u, 0] + dx > extent[v, 2] + near or extent[u, 2] + dx < extent[v, 0] - near:
                continue
            if extent[u, 1] + dy > extent[v, 3] + near or extent[u, 3] + dy < extent[v, 1] - near:
                continue
            for a in range(parts.at[u], parts.at[u + 1]):
                for b in range(parts.at[v], parts.at[v + 1]):
                    if box[a, 0] + dx > box[b, 2] + near or box[a, 2] + dx < box[b, 0] - near:
                        continue
                    if box[a, 1] + dy > box[b, 3] + near or box[a, 3] + dy < box[b, 1] - near:
                        continue
                    if count == rows.least.shape[0]:
                        return -1
                    if side(parts, a, b, dx, dy, rows, count, near):
                        rows.pair[count, 0], rows.pair[count, 1] = i, j
                        count += 1
    return count


class Press:
    """Presses the layouts of one lane together."""

    def __init__(self, forms: Forms, parts: Parts, trial: Strip) -> None:
        self.forms, self.parts = forms, parts
        self.trial = trial  # where a pressed layout is laid to see whether anything overlaps
        self.last = np.inf  # the line of the lane's best when that was pressed
        self.small = SMALL * float(forms.extent[trial.form, SIZE].mean()) ** 1.5
        self.rows = Rows(
            pair=np.zeros((MOST_ROWS, 2), dtype=np.int64),
            normal=np.zeros((MOST_ROWS, 2)),
            least=np.zeros(MOST_ROWS),
        )

    def work(self, tables: Tables, strip: Strip, hunt: Hunt) -> None:
        """Press the lane's best where it is new, or else what nearly succeeded of late.

        What becomes shorter than the best is the best, and the attempt in hand is given up.
        """
        fresh, hunt.mark[FRESH] = hunt.mark[FRESH], 0
        if strip.bounds[BEST] != self.last:
            self._try(tables, strip, strip.best_pose, strip.best_form)
        elif fresh and hunt.pool_loss[fresh - 1] < self.small:
            self._try(tables, strip, hunt.pool_pose[fresh - 1], hunt.pool_form[fresh - 1])
        self.last = float(strip.bounds[BEST])

    def _try(self, tables: Tables, strip: Strip, pose: Floats, form: Ints) -> None:
        pressed = self.pressed(strip, pose, form)
        if pressed is None:
            return
        trial = self.trial
        trial.pose[:], trial.form[:] = pressed, form
        line = trial.bounds[LINE] = furthest(self.forms, trial)
        if line > (1.0 - WORTH) * (strip.bounds[BEST] - strip.bounds[LEFT]) + strip.bounds[LEFT]:
            return
        lay_all(self.forms, tables, trial)
        if total_loss(trial) > 0.0:
            return
        strip.best_pose[:], strip.best_form[:] = pressed, form
        strip.bounds[BEST] = line
        strip.tally[PHASE] = NEW
        strip.tally[SUCCESSES] += 1

    def pressed(self, strip: Strip, pose: Floats, form: Ints) -> Floats | None:
        """The poses moved together as far as the program goes; None where it has no solution.

        Pieces that overlap a little are moved apart, too. The outcome is the program's, to its
        tolerance: whether nothing overlaps is for the caller to find out.
        """
        found, last = None, np.inf
        for _ in range(STEPS):
            at = pose if found is None else found
            moved = self._step(strip, at, form, NEAR * self._length(strip, at, form))
            if moved is None:
                return found
            found, now = moved, self._length(strip, moved, form)
            if now > (1.0 - WORTH) * last:  # the first may have made it longer, to part pieces
                break
            last = now
        return found

    def _length(self, strip: Strip, pose: Floats, form: Ints) -> float:
        right = (pose[:, 0] + self.forms.extent[form, BODY + 2]).max()
        return float(right - strip.bounds[LEFT])

    def _step(self, strip: Strip, pose: Floats, form: Ints, near: float) -> Floats | None:
        """The program's outcome. Unknown are all x, all y and the right end, to be least."""
        count = sides(self.forms, self.parts, pose, form, self.rows, near)
        if count < 0:
            return None
        n, body = len(form), self.forms.extent[form, BODY : BODY + 4]
        right_end = np.zeros(2 * n + 1)
        right_end[2 * n] = 1.0
        solved = linprog(
            right_end,
            A_ub=self._matrix(n, count),
            b_ub=-np.concatenate([self.rows.least[:count], body[:, 2]]),
            bounds=self._bounds(strip, pose, body, near * MOST_MOVED / NEAR),
            method="highs-ds",
        )
        if solved.status != 0:
            return None
        return solved.x[: 2 * n].reshape(2, n).T.copy()

    def _matrix(self, n: int, count: int) -> csr_array:
        """Each pair of parts on its sides; then each piece before the right end."""
        i, j = self.rows.pair[:count].T
        nx, ny = self.rows.normal[:count].T
        beside = np.column_stack([i, j, n + i, n + j])
        before = np.column_stack([np.arange(n), np.full(n, 2 * n)])
        factors = np.column_stack([-nx, nx, -ny, ny])
        values = np.concatenate([factors.ravel(), np.tile([1.0, -1.0], n)])
        columns = np.concatenate([beside.ravel(), before.ravel()])
        begins = np.concatenate([4 * np.arange(count), 4 * count + 2 * np.arange(n + 1)])
        return csr_array((values, columns, begins), shape=(count + n, 2 * n + 1))

    def _bounds(self, strip: Strip, pose: Floats, body: Floats, most: float) -> Floats:
        """Every piece within the metal and no further than `most` from where it lies."""
        left, low, high = strip.bounds[LEFT], strip.bounds[LOW], strip.bounds[HIGH]
        left, low, high = left + CLEAR_MM, low + CLEAR_MM, high - CLEAR_MM
        x, y = pose.T
        lower = np.concatenate(
            [np.maximum(left - body[:, 0], x - most), np.maximum(low - body[:, 1], y - most)]
        )
        upper = np.concatenate([x + most, np.minimum(high - body[:, 3], y + most)])
        ends = np.array([[left, np.inf]])
        return np.vstack([np.column_stack([lower, np.maximum(upper, lower)]), ends])
