"""Good-pattern help: what could be drawn more neatly, and the neater line itself.

    for mend in mends(tracing, relabels, limits):
        mend.sentence, mend.moved_mm, mend.changes      # changes for studio.core.correcting

How advice comes about:

1. `ways` measures a line at even steps and finds its corners; `hands` tells a hand's tremor from
   what is even and therefore meant.
2. `edges` finds sides that are nearly straight, `turning` corners that are nearly square and sides
   nearly parallel, `stencils` (with `conics`) circles and ellipses, `folding` mirrored halves,
   `smoothing` curves that wobble. `drafts` puts all of one line together.
3. `neighbours` lets lines follow that meet the mended one; `offering` tries each mend out on the
   whole drawing and drops what would change a line's meaning or add a stop.

All limits stand in `thresholds` with their reasons. Nothing here changes a drawing.
"""

from .mend import CODES, Mend, Stroke
from .offering import is_quick, mends, together

__all__ = ["CODES", "Mend", "Stroke", "is_quick", "mends", "together"]
