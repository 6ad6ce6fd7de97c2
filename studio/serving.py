"""Web server and placing worker, started and stopped together by one command."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager

from django.conf import settings
from django.core.management import call_command


def make_ready() -> None:
    """Bring the database and the static files up to date; quick when they are."""
    call_command("migrate", interactive=False, verbosity=0)
    call_command("collectstatic", interactive=False, verbosity=0)


@contextmanager
def worker() -> Iterator[None]:
    """A placing worker beside the server; ends with it."""
    process = subprocess.Popen(
        [sys.executable, str(settings.BASE_DIR / "manage.py"), "work"],
        env={**os.environ, "BENCHLEDGER_PREPARE": "0"},
        stdin=subprocess.DEVNULL,
    )
    try:
        yield
    finally:
        process.terminate()
        try:
            process.wait(timeout=10)
        except subprocess.TimeoutExpired:
            process.kill()


def serve(host: str, port: int) -> None:
    """Answer until interrupted. Raises OSError when the address is taken."""
    from waitress.server import create_server

    from studio.wsgi import application

    server = create_server(application, host=host, port=port, threads=8, ident=None)
    with worker():
        try:
            server.run()
        except KeyboardInterrupt:
            pass
        finally:
            server.close()
