"""The one word "this process is ending", for work that takes long enough to be put back."""

from __future__ import annotations

import threading

ENDING = threading.Event()
"""Set once, when the worker is asked to end; never cleared but by tests."""
