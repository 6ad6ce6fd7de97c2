"""How a worker is named in a job's lease: where it runs, in which process, on which task."""

from __future__ import annotations

import os
import socket


def place_of(process: int) -> str:
    """This machine and a process on it."""
    return f"{socket.gethostname()[:30]}/{process}"


def worker_name(task_id: str) -> str:
    """This very process at a task; ends with the task's own id."""
    return f"{place_of(os.getpid())}/{task_id}"[:80]
