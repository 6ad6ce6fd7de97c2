"""Linear programs: a textbook's optimum, what has none, and one program after another."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest

from studio.core.placing.strips import linear_program
from studio.core.placing.strips.linear_program import LinearProgram

FREE = [0.0, np.inf]

# Chvatal 1983, Linear Programming, the first program solved by the simplex method there (cited
# from memory): most of 5a + 4b + 3c is 13, at (2, 0, 1)
CHVATAL = (
    [-5.0, -4.0, -3.0],
    [FREE] * 3,
    [[2.0, 3.0, 1.0], [4.0, 1.0, 2.0], [3.0, 4.0, 2.0]],
    [5.0, 11.0, 8.0],
)


def solved(
    program: LinearProgram,
    price: list[float],
    bounds: list[list[float]],
    rows: list[list[float]],
    most: list[float],
) -> list[float] | None:
    factors = np.array(rows)
    row, column = np.nonzero(factors)
    start = np.searchsorted(row, np.arange(len(rows) + 1)).astype(np.int32)
    found = program.solved(
        np.array(price),
        np.array(bounds).T.copy(),
        start,
        column.astype(np.int32),
        factors[row, column],
        np.array(most),
    )
    return None if found is None else [float(value) for value in found]


def test_a_textbook_program_has_its_known_optimum() -> None:
    assert solved(LinearProgram(), *CHVATAL) == pytest.approx([2.0, 0.0, 1.0])


def test_bounds_hold_where_no_row_speaks_of_a_value() -> None:
    found = solved(LinearProgram(), [1.0, -1.0], [[-3.0, 7.0], [0.5, 2.5]], [[1.0, 0.0]], [9.0])
    assert found == pytest.approx([-3.0, 2.5])


@pytest.mark.parametrize(
    ("price", "rows", "most"),
    [([1.0], [[1.0], [-1.0]], [2.0, -3.0]), ([-1.0], [[-1.0]], [0.0])],
    ids=["at most 2 and at least 3", "as much as there is"],
)
def test_a_program_without_an_optimum_has_no_values(
    price: list[float], rows: list[list[float]], most: list[float]
) -> None:
    assert solved(LinearProgram(), price, [FREE], rows, most) is None


def test_one_program_leaves_nothing_behind_for_the_next() -> None:
    program = LinearProgram()
    assert solved(program, [1.0], [FREE], [[1.0], [-1.0]], [2.0, -3.0]) is None
    assert solved(program, *CHVATAL) == pytest.approx([2.0, 0.0, 1.0])
    assert solved(program, [1.0], [[4.0, 6.0]], [[1.0]], [9.0]) == pytest.approx([4.0])
    assert solved(program, *CHVATAL) == pytest.approx([2.0, 0.0, 1.0])


def test_a_program_that_takes_too_many_pivots_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(linear_program, "MOST_PIVOTS", 1)
    assert solved(LinearProgram(), *CHVATAL) is None


def test_nothing_is_printed_among_a_commands_answer() -> None:
    code = "from studio.core.placing.strips.linear_program import LinearProgram; LinearProgram()"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True)
    assert (done.stdout, done.stderr) == (b"", b"")
