"""Where a piece may lie, roughly: free cells and correlations by fast Fourier transform.

The raster only proposes. What it proposes is checked, and settled, with exact geometry.
"""

from __future__ import annotations

from collections import OrderedDict

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import MultiPolygon, Polygon

from studio.core.placing.shapes import Variant

CELLS = 30_000  # about as many cells as a metal is divided into
KERNEL_BYTES = 64 * 1024 * 1024  # spectra kept for reuse

Mask = npt.NDArray[np.bool_]


def fill(
    polygon: Polygon | MultiPolygon,
    origin: tuple[float, float],
    cell: float,
    shape: tuple[int, int],
) -> Mask:
    """Cells (rows along y, columns along x) whose centres lie in the polygon, by parity."""
    rows, columns = shape
    toggles = np.zeros((rows, columns + 1), dtype=np.int32)
    parts = [polygon] if isinstance(polygon, Polygon) else list(polygon.geoms)
    for part in parts:
        for ring in [part.exterior, *part.interiors]:
            coords = (shapely.get_coordinates(ring) - origin) / cell - 0.5
            _toggle(toggles, coords[:-1], coords[1:])
    return (np.cumsum(toggles[:, :columns], axis=1) & 1).astype(np.bool_)


def _toggle(
    toggles: npt.NDArray[np.int32], start: npt.NDArray[np.float64], end: npt.NDArray[np.float64]
) -> None:
    rows, width = toggles.shape
    low = np.minimum(start[:, 1], end[:, 1])
    high = np.maximum(start[:, 1], end[:, 1])
    first = np.clip(np.ceil(low), 0, rows).astype(np.int64)
    stop = np.clip(np.ceil(high), 0, rows).astype(np.int64)  # half open: a vertex counts once
    count = stop - first
    total = int(count.sum())
    if total == 0:
        return
    edge = np.repeat(np.arange(len(start)), count)
    offset = np.arange(total) - np.repeat(np.cumsum(count) - count, count)
    row = first[edge] + offset
    rise = end[edge, 1] - start[edge, 1]
    x = start[edge, 0] + (row - start[edge, 1]) / rise * (end[edge, 0] - start[edge, 0])
    column = np.clip(np.ceil(x), 0, width - 1).astype(np.int64)
    np.add.at(toggles, (row, column), 1)


class Kernels:
    """Spectra of variants, shared by all metals of one job, oldest thrown away first."""

    def __init__(self) -> None:
        self._kept: OrderedDict[tuple[object, ...], tuple[object, int]] = OrderedDict()
        self._bytes = 0

    def spectrum(
        self, variant: Variant, cell: float, shape: tuple[int, int]
    ) -> npt.NDArray[np.complex64] | None:
        """The conjugate spectrum of the variant's cells, or None when it is larger than the grid.

        Cell (0, 0) is at the lower left of the variant's box, one cell of rim included.
        """
        key = (variant.shape, variant.turn_deg, variant.mirror, cell, shape)
        kept = self._kept.get(key)
        if kept is not None:
            self._kept.move_to_end(key)
            spectrum = kept[0]
        else:
            spectrum = _spectrum(variant, cell, shape)
            size = 0 if spectrum is None else spectrum.nbytes
            self._kept[key] = (spectrum, size)
            self._bytes += size
            while self._bytes > KERNEL_BYTES:
                _, (_, freed) = self._kept.popitem(last=False)
                self._bytes -= freed
        assert spectrum is None or isinstance(spectrum, np.ndarray)
        return spectrum


def kernel_size(variant: Variant, cell: float) -> tuple[int, int]:
    """Rows and columns that the variant takes, one cell of rim on every side."""
    x0, y0, x1, y1 = variant.bounds
    return int(np.ceil((y1 - y0) / cell)) + 2, int(np.ceil((x1 - x0) / cell)) + 2


def _spectrum(
    variant: Variant, cell: float, shape: tuple[int, int]
) -> npt.NDArray[np.complex64] | None:
    size = kernel_size(variant, cell)
    if size[0] > shape[0] or size[1] > shape[1]:
        return None
    x0, y0, _, _ = variant.bounds
    origin = (x0 - cell, y0 - cell)
    wide = variant.outline.buffer(0.5 * cell, quad_segs=2)
    assert isinstance(wide, Polygon)
    mask = np.zeros(shape, dtype=np.float32)
    mask[: size[0], : size[1]] = fill(wide, origin, cell, size)
    return np.conj(np.fft.rfft2(mask)).astype(np.complex64)


class Grid:
    """The free cells of one metal, with a rim of blocked cells around it."""

    def __init__(self, free: Polygon | MultiPolygon, cell: float) -> None:
        x0, y0, x1, y1 = free.bounds
        self.cell = cell
        self.origin = (x0 - 2 * cell, y0 - 2 * cell)
        self.shape = (
            _smooth(int(np.ceil((y1 - y0) / cell)) + 4),
            _smooth(int(np.ceil((x1 - x0) / cell)) + 4),
        )
        self.blocked: Mask = ~fill(free, self.origin, cell, self.shape)
        self._spectrum: npt.NDArray[np.complex64] | None = None

    def copy(self) -> Grid:
        other = object.__new__(Grid)
        other.cell, other.origin, other.shape = self.cell, self.origin, self.shape
        other.blocked = self.blocked.copy()
        other._spectrum = self._spectrum
        return other

    def block(self, polygon: Polygon) -> None:
        """Mark the cells of a piece that has been laid."""
        self.blocked |= fill(polygon, self.origin, self.cell, self.shape)
        self._spectrum = None

    def overlap(self, variant: Variant, kernels: Kernels) -> npt.NDArray[np.float32] | None:
        """For every cell, how many blocked cells the variant would cover with its box's lower
        left there; None when it is larger than the grid."""
        spectrum = kernels.spectrum(variant, self.cell, self.shape)
        if spectrum is None:
            return None
        if self._spectrum is None:
            self._spectrum = np.fft.rfft2(self.blocked.astype(np.float32)).astype(np.complex64)
        found = np.fft.irfft2(self._spectrum * spectrum, s=self.shape).astype(np.float32)
        rows, columns = kernel_size(variant, self.cell)
        return found[: self.shape[0] - rows + 1, : self.shape[1] - columns + 1]

    def shift(self, variant: Variant, row: int, column: int) -> tuple[float, float]:
        """The shift that lays the variant's box at a cell."""
        x0, y0, _, _ = variant.bounds
        return (
            self.origin[0] + (column + 1) * self.cell - x0,
            self.origin[1] + (row + 1) * self.cell - y0,
        )


def cell_for(free: Polygon | MultiPolygon) -> float:
    x0, y0, x1, y1 = free.bounds
    return float(np.sqrt(max((x1 - x0) * (y1 - y0), 1e-6) / CELLS))


def _smooth(size: int) -> int:
    """The next size with no prime factor above 5: transforms of such sizes are fast."""
    while True:
        rest = size
        for factor in (2, 3, 5):
            while rest % factor == 0:
                rest //= factor
        if rest == 1:
            return size
        size += 1
