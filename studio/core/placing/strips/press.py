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

from studio.core.placing.compiled import compiled
from studio.core.placing.separating.kernels import Floats, Ints

from .kernels import HIGH, LEFT, LOW, Strip
from .linear_program import Ints32, LinearProgram
from .pairs import BODY, Forms
from .parts import Parts

NEAR = 0.02  # parts no further apart, by the strip's length, keep to their sides
MOST_MOVED = NEAR / 3.0  # in one step, so that two parts further apart cannot meet
CLEAR_MM = 1e-6  # from the metal's rim, so that the last digit says nothing
APART_MM = 1e-6  # of all overlaps together, none
DEAR = 20.0  # what a part's overlap costs against the same length of strip
STEPS = 12
WORTH = 1e-5  # a step that saves less of the length is the last
MOST_ROWS = 6_000


class Rows(NamedTuple):
    """Room for the program's rows: normal · (pose of i - pose of j) is at least `least`."""

    pair: Ints  # (rows, 2)
    normal: Floats  # (rows, 2)
    least: Floats
    apart: Floats  # by how much it is more now; less than nought where the parts overlap


class Matrix(NamedTuple):
    """Room for the program's rows as they are solved, entry by entry."""

    start: Ints32  # of each row's entries, and the end of all
    column: Ints32
    factor: Floats
    most: Floats  # (rows,): what factors times values must not exceed


def matrix_of(rows: int, pieces: int) -> Matrix:
    """Room for so many rows of parts and one for each piece."""
    entries = 5 * rows + 2 * pieces
    return Matrix(
        start=np.zeros(rows + pieces + 1, dtype=np.int32),
        column=np.zeros(entries, dtype=np.int32),
        factor=np.zeros(entries),
        most=np.zeros(rows + pieces),
    )


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


@compiled
def entry(matrix: Matrix, at: int, column: int, factor: float) -> int:
    """Write one entry; where the next one goes."""
    matrix.column[at], matrix.factor[at] = column, factor
    return at + 1


@compiled
def write(rows: Rows, count: int, body: Floats, matrix: Matrix) -> int:
    """Each pair of parts on its sides, or overlapping; each piece before the right end.

    Columns are all x, all y, the right end, then one for each row that overlaps: how many of
    these.
    """
    n = body.shape[0]
    at, overlaps = 0, 0
    for row in range(count):
        matrix.start[row] = at
        matrix.most[row] = -rows.least[row]
        i, j = rows.pair[row, 0], rows.pair[row, 1]
        nx, ny = rows.normal[row, 0], rows.normal[row, 1]
        at = entry(matrix, at, i, -nx)
        at = entry(matrix, at, j, nx)
        at = entry(matrix, at, n + i, -ny)
        at = entry(matrix, at, n + j, ny)
        if rows.apart[row] < 0.0:
            at = entry(matrix, at, 2 * n + 1 + overlaps, -1.0)
            overlaps += 1
    for i in range(n):
        matrix.start[count + i] = at
        matrix.most[count + i] = -body[i, 2]
        at = entry(matrix, at, i, 1.0)
        at = entry(matrix, at, 2 * n, -1.0)
    matrix.start[count + n] = at
    return overlaps


class Press:
    """Presses layouts of one lane of so many pieces together."""

    def __init__(self, forms: Forms, parts: Parts, pieces: int) -> None:
        self.program = LinearProgram()
        self.matrix = matrix_of(MOST_ROWS, pieces)
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
        overlaps = write(self.rows, count, body, self.matrix)
        price = np.full(2 * n + 1 + overlaps, DEAR)
        price[: 2 * n], price[2 * n] = 0.0, 1.0
        bounds = self._bounds(strip, pose, body, near * MOST_MOVED / NEAR, overlaps)
        matrix = self.matrix
        found = self.program.solved(
            price,
            bounds,
            matrix.start[: count + n + 1],
            matrix.column[: matrix.start[count + n]],
            matrix.factor[: matrix.start[count + n]],
            matrix.most[: count + n],
        )
        if found is None:
            return None
        return found[: 2 * n].reshape(2, n).T.copy(), float(found[2 * n + 1 :].sum())

    def _bounds(
        self, strip: Strip, pose: Floats, body: Floats, most: float, overlaps: int
    ) -> Floats:
        """Every piece within the metal and no further than `most` from where it lies."""
        left, low, high = strip.bounds[LEFT], strip.bounds[LOW], strip.bounds[HIGH]
        left, low, high = left + CLEAR_MM, low + CLEAR_MM, high - CLEAR_MM
        x, y = pose.T
        least_x = np.maximum(left - body[:, 0], x - most)
        least_y = np.maximum(low - body[:, 1], y - most)
        lower = np.concatenate([least_x, least_y, [left], np.zeros(overlaps)])
        open_ends = np.full(1 + overlaps, np.inf)
        upper = np.concatenate([x + most, np.minimum(high - body[:, 3], y + most), open_ends])
        return np.vstack([lower, np.maximum(upper, lower)])
