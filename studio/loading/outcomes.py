"""What came of the work that was asked for: `python -m studio.loading.outcomes SECONDS`.

A process of its own, as `population` is. Waits until the workers have nothing left to do, for so
many seconds at most, and prints `{"done": 25, "wrong": ["…"]}`.
"""

from __future__ import annotations

import json
import sys
import time
from typing import Any

_LOOK_SECONDS = 1.0


def outcomes(patience_seconds: float) -> dict[str, Any]:
    """Needs Django set up."""
    from studio.models import CutPlan, Errand

    end = time.monotonic() + patience_seconds
    placing = CutPlan.objects.filter(state=CutPlan.State.PLACING)
    while Errand.objects.still_open().exists() or placing.exists():
        if time.monotonic() > end:
            break
        time.sleep(_LOOK_SECONDS)
    errands = list(Errand.objects.all())
    well = [one for one in errands if one.state == Errand.State.DONE and not one.trouble]
    wrong = [
        f"{one}: {one.trouble or one.get_state_display()}" for one in errands if one not in well
    ]
    wrong += [f"{plan}: still being placed" for plan in placing]
    plans = CutPlan.objects.filter(state=CutPlan.State.PROPOSED)
    return {"done": len(well) + plans.count(), "wrong": wrong}


if __name__ == "__main__":
    import django

    django.setup()
    print(json.dumps(outcomes(float(sys.argv[1]))))
