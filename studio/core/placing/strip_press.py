"""All pieces of a strip moved at once, towards its left end as far as they let each other.

A search that moves one piece at a time cannot make room by moving ten of them a little. A linear
program can: every two convex parts that are near each other must stay on their sides of a line
between them, and the strip's length is made least. After the compaction of Li & Milenkovic 1995
(European Journal of Operational Research 84, 539-561; cited from memory). What overlaps may go on
doing so at a price far above that of length, so that the program has a solution: few overlaps can
be moved apart at once, but most in some steps, each with new lines. HiGHS solves the program.
"""

# mypy: disable-error-code="no-any-return"
# (what numpy gives back for single numbers is Any to the checker)

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import csr_array

from studio.core.placing.compiled import compiled
from studio.core.placing.kernels import Floats, Ints
from studio.core.placing.strip_kernels import HIGH, LEFT, LOW, Strip
from studio.core.placing.strip_pairs import BODY, Forms
from studio.core.placing.strip_parts import Parts

NEAR = 0.02  # parts no further apart, by the strip's length, keep to their sides
MOST_MOVED = NEAR / 3.0  # in one step, so that two parts further apart cannot meet
CLEAR_MM = 1e-6  # from the metal's rim, so that the last digit says nothing
APART_MM = 1e-6  # of all overlaps together, none
DEAR = 20.0  # what a part's overlap costs against the same length of strip
STEPS = 12
WORTH = 1e-5  # a step that saves less of the length is the last
MOST_ROWS = 6_000
MOST_PIVOTS = 20_000  # of the simplex method: a program that needs more is given up


class Rows(NamedTuple):
    """Room for the program's rows: normal · (pose of i - pose of j) is at least `least`."""

    pair: Ints  # (rows, 2)
    normal: Floats  # (rows, 2)
    least: Floats
    apart: Floats  # by how much it is more now; less than nought where the parts overlap


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
                rows.least[at], rows.apart[at] = least, apart
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
    """Presses layouts of one lane together."""

    def __init__(self, forms: Forms, parts: Parts) -> None:
        self.forms, self.parts = forms, parts
        self.fits = True  # whether there was room for the last layout's rows
        self.rows = Rows(
            pair=np.zeros((MOST_ROWS, 2), dtype=np.int64),
            normal=np.zeros((MOST_ROWS, 2)),
            least=np.zeros(MOST_ROWS),
            apart=np.zeros(MOST_ROWS),
        )

    def pressed(self, strip: Strip, stop: Ints, pose: Floats, form: Ints) -> Floats | None:
        """The poses moved together as far as the program goes; None where pieces overlap still.

        None, too, where `stop` says so meanwhile.

        The outcome is the program's, to its tolerance: whether nothing overlaps is for the
        caller to find out.
        """
        last, overlap, pose = np.inf, np.inf, self._within(strip, pose, form)
        for _ in range(STEPS):
            if stop[0] != 0:
                return None
            moved = self._step(strip, pose, form, NEAR * self._length(strip, pose, form))
            if moved is None:
                break
            pose, overlap = moved
            now = self._length(strip, pose, form) + DEAR * overlap
            if now > (1.0 - WORTH) * last:
                break
            last = now
        return pose if overlap < APART_MM else None

    def _within(self, strip: Strip, pose: Floats, form: Ints) -> Floats:
        """Every piece brought into the metal: the program moves it only a little."""
        body, bounds = self.forms.extent[form, BODY : BODY + 4], strip.bounds
        x = np.maximum(pose[:, 0], bounds[LEFT] + CLEAR_MM - body[:, 0])
        y = np.minimum(pose[:, 1], bounds[HIGH] - CLEAR_MM - body[:, 3])
        return np.column_stack([x, np.maximum(y, bounds[LOW] + CLEAR_MM - body[:, 1])])

    def _length(self, strip: Strip, pose: Floats, form: Ints) -> float:
        right = (pose[:, 0] + self.forms.extent[form, BODY + 2]).max()
        return float(right - strip.bounds[LEFT])

    def _step(
        self, strip: Strip, pose: Floats, form: Ints, near: float
    ) -> tuple[Floats, float] | None:
        """The program's outcome: poses, and how far parts still overlap, all together.

        Unknown are all x, all y, the right end, and the overlap of each row that has one.
        """
        count = sides(self.forms, self.parts, pose, form, self.rows, near)
        self.fits = count >= 0
        if not self.fits:
            return None
        n, body = len(form), self.forms.extent[form, BODY : BODY + 4]
        (overlapping,) = np.nonzero(self.rows.apart[:count] < 0.0)
        price = np.zeros(2 * n + 1 + len(overlapping))
        price[2 * n], price[2 * n + 1 :] = 1.0, DEAR
        moves = self._bounds(strip, pose, body, near * MOST_MOVED / NEAR)
        overlaps = np.tile([0.0, np.inf], (len(overlapping), 1))
        solved = linprog(
            price,
            A_ub=self._matrix(n, count, overlapping),
            b_ub=-np.concatenate([self.rows.least[:count], body[:, 2]]),
            bounds=np.vstack([moves, overlaps]),
            method="highs-ds",
            options={"maxiter": MOST_PIVOTS},
        )
        if solved.status != 0:
            return None
        return solved.x[: 2 * n].reshape(2, n).T.copy(), float(solved.x[2 * n + 1 :].sum())

    def _matrix(self, n: int, count: int, overlapping: Ints) -> csr_array:
        """Each pair of parts on its sides, or overlapping; each piece before the right end."""
        i, j = self.rows.pair[:count].T
        nx, ny = self.rows.normal[:count].T
        each, more = np.arange(n), np.arange(len(overlapping))
        parted, ended = np.arange(count), count + each
        row = [parted, parted, parted, parted, overlapping, ended, ended]
        column = [i, j, n + i, n + j, 2 * n + 1 + more, each, np.full(n, 2 * n)]
        ones = np.ones(n)
        factor = [-nx, nx, -ny, ny, -np.ones(len(overlapping)), ones, -ones]
        return csr_array(
            (np.concatenate(factor), (np.concatenate(row), np.concatenate(column))),
            shape=(count + n, 2 * n + 1 + len(overlapping)),
        )

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
