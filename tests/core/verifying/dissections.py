"""Rectangles cut into squares without gap or overlap, as the literature gives them."""

from __future__ import annotations

from shapely.geometry import box

from studio.core.cutting import Job, Placement, Stock, Wanted

# Z. Moroń, "O rozkładach prostokątów na kwadraty", 1925: 33 × 32 of nine squares.
MORON_33 = (33, 32, (18, 15, 14, 10, 9, 8, 7, 4, 1))
# The same paper's second: 65 × 47 of ten squares.
MORON_65 = (65, 47, (25, 24, 23, 22, 19, 17, 11, 6, 5, 3))
# A. J. W. Duijvestijn, "Simple perfect squared square of lowest order", J. Combin. Theory B 25,
# 1978: 112 × 112 of 21 squares, in the code that lists them row by row from the top left.
DUIJVESTIJN = (
    112,
    112,
    (50, 35, 27, 8, 19, 15, 17, 11, 6, 24, 29, 25, 9, 2, 7, 18, 16, 42, 4, 37, 33),
)
# Moroń's rectangles in the same code (found by trying all orders).
MORON_33_CODE = (18, 15, 7, 8, 14, 4, 10, 1, 9)
MORON_65_CODE = (25, 17, 23, 11, 6, 5, 24, 22, 3, 19)


def from_code(width: float, sizes: tuple[int, ...]) -> list[tuple[float, float]]:
    """Lower left corners of the squares, each laid in turn on the lowest, leftmost ledge."""
    ledge = [(0.0, width, 0.0)]  # from, to, height
    corners = []
    for size in sizes:
        height = min(step[2] for step in ledge)
        k = next(i for i, step in enumerate(ledge) if step[2] == height)
        start, end, _ = ledge[k]
        corners.append((start, height))
        rest = [(start + size, end, height)] if start + size < end else []
        ledge[k : k + 1] = [(start, start + size, height + size), *rest]
        ledge = _level(ledge)
    return corners


def _level(ledge: list[tuple[float, float, float]]) -> list[tuple[float, float, float]]:
    joined = [ledge[0]]
    for start, end, height in ledge[1:]:
        if height == joined[-1][2]:
            joined[-1] = (joined[-1][0], end, height)
        else:
            joined.append((start, end, height))
    return joined


def job_of(width: float, height: float, sizes: tuple[int, ...], scale: float = 1.0) -> Job:
    return Job(
        metal=(Stock("S1", box(0, 0, width * scale, height * scale), 0.0003),),
        pieces=tuple(
            Wanted(f"s{size}", box(0, 0, size * scale, size * scale), turns_deg=(0.0,))
            for size in sizes
        ),
        kerf_mm=0.0,
    )


def layout(width: float, sizes: tuple[int, ...], scale: float = 1.0) -> list[Placement]:
    return [
        Placement(f"s{size}", 0, "S1", False, 0.0, x * scale, y * scale)
        for size, (x, y) in zip(sizes, from_code(width, sizes), strict=True)
    ]
