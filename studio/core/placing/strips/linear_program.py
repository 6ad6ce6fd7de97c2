"""Linear programs, many small ones in a row: HiGHS with as little around it as possible."""

from __future__ import annotations

import highspy
import numpy as np
import numpy.typing as npt

from studio.core.placing.separating.kernels import Floats

Ints32 = npt.NDArray[np.int32]

BY_ROWS, LEAST, DEVEX, UNSCALED = 2, 1, 1, 0  # HiGHS's numbers
MOST_PIVOTS = 20_000  # of the simplex method: a program that needs more is given up


class LinearProgram:
    """Solves one program after another by the dual simplex method; not for two threads at once.

    Presolving and scaling take longer than they save where a program has some hundred rows of
    unit normals.
    """

    def __init__(self) -> None:
        self.highs = highspy.Highs()
        self.highs.setOptionValue("output_flag", False)
        self.highs.setOptionValue("threads", 1)
        self.highs.setOptionValue("presolve", "off")
        self.highs.setOptionValue("solver", "simplex")
        self.highs.setOptionValue("simplex_dual_edge_weight_strategy", DEVEX)
        self.highs.setOptionValue("simplex_scale_strategy", UNSCALED)
        self.highs.setOptionValue("simplex_iteration_limit", MOST_PIVOTS)

    def solved(
        self,
        price: Floats,
        bounds: Floats,
        start: Ints32,
        column: Ints32,
        factor: Floats,
        most: Floats,
    ) -> Floats | None:
        """The values that cost least, or None where there are none (or it takes too long).

        `price` is (columns,), `bounds` (2, columns): the least and most of each value. Row r is
        made of the entries `start[r]` to `start[r + 1]` of `column` and `factor`; values times
        factors must not add up to more than `most[r]`.
        """
        rows, columns = len(most), len(price)
        self.highs.passModel(
            columns,
            rows,
            int(start[rows]),
            BY_ROWS,
            LEAST,
            0.0,
            price,
            bounds[0],
            bounds[1],
            np.full(rows, -np.inf),
            most,
            start,
            column,
            factor,
            np.zeros(columns, dtype=np.int32),  # no value must be whole
        )
        self.highs.run()
        if self.highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        return np.array(self.highs.getSolution().col_value)
