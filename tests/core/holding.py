"""A process that outlives its killing, as one may on a busy machine."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
from collections.abc import Iterator

import pytest

needs_holding = pytest.mark.skipif(os.name != "posix", reason="Only there a process can be held.")


@contextlib.contextmanager
def held(child: subprocess.Popen[bytes]) -> Iterator[None]:
    """Until we leave nothing ends it: it is stopped, so that no signal and no closed pipe reaches
    it but SIGKILL, and that is put off until then."""
    with pytest.MonkeyPatch.context() as later:
        later.setattr(subprocess.Popen, "kill", lambda _: None)
        child.send_signal(signal.SIGSTOP)
        try:
            yield
        finally:
            later.undo()
            child.kill()
