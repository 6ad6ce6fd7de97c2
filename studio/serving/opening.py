"""The house opens and closes here: web processes and worker, started and ended together."""

from __future__ import annotations

import contextlib
import errno
import ipaddress
import os
import socket
import sys
from collections.abc import Callable

from django.conf import settings
from django.core.management import CommandError, call_command
from django.db import connection

from classroom.signin import first_run_code
from studio.keeping.upgrading import NoUpgrade, kept_before_upgrade
from studio.queues.whose import the_queue_is_ours

from .supervising import Child, Supervisor

REAP_EVERY = "15"
"""Seconds."""


def make_ready() -> None:
    """Bring the database and the static files up to date; quick when they are.

    A school is backed up before its database changes, and without a backup it does not change.
    """
    try:
        with kept_before_upgrade():
            call_command("migrate", interactive=False, verbosity=0)
    except NoUpgrade as error:
        raise CommandError(str(error)) from error
    call_command("collectstatic", interactive=False, verbosity=0)


def serve(host: str, port: int, *, told: Callable[[str | None], None]) -> None:
    """Answer until told to end.

    `told` is called once the address is known to be free, with the code that the first visitor
    has to type where others than this machine's own people can come first.

    Raises OSError when the address is taken.
    """
    make_sure_it_is_free(host, port)
    allow_many_connections()
    code = first_run_code.first_run_code(listens_elsewhere=not is_this_machine(host))
    if code is not None:
        os.environ[first_run_code.VARIABLE] = code  # for the children
    told(code)
    connection.close()
    supervisor = Supervisor(
        children(host, port), folder=str(settings.BASE_DIR), chore=todays_backup
    )
    supervisor.listen_to_signals()
    supervisor.run()


def address_of(host: str, port: int) -> str:
    """The address itself of a name such as "localhost", as the web server takes addresses only;
    the older kind where a name has both. Raises OSError for a name that nobody knows."""
    found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE)
    found.sort(key=lambda one: one[0] != socket.AF_INET)
    return str(found[0][4][0])


def children(host: str, port: int) -> list[Child]:
    host = address_of(host, port)
    found = [Child("the web server", [sys.executable, "-m", "studio.serving.web", host, str(port)])]
    manage = str(settings.BASE_DIR / "manage.py")
    if the_queue_is_ours():
        found.append(Child("the worker", [sys.executable, manage, "work"]))
    else:
        # A district's workers take what the queue gives them; what was lost, and files whose
        # time is over, are looked for from here.
        found.append(Child("the reaper", [sys.executable, manage, "reap", "--every", REAP_EVERY]))
    return found


def todays_backup() -> Child | None:
    """The program that makes today's backup and, where none is due, ends at once.

    Whether one is due is asked there: a network folder that hangs or a database that does not
    answer would hold up whoever asks, and the supervisor has the house to look after.
    """
    if not settings.BACKUP_DAILY:
        return None
    manage = str(settings.BASE_DIR / "manage.py")
    return Child("the daily backup", [sys.executable, manage, "backup", "--daily"])


def is_this_machine(host: str) -> bool:
    """Whether an address to listen on is reached from this machine alone."""
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return host == "localhost"


def names_of_others() -> list[str]:
    """The names and addresses by which other machines may ask for the app."""
    return [name for name in settings.ALLOWED_HOSTS if not is_this_machine(name)]


def make_sure_it_is_free(host: str, port: int) -> None:
    """Web processes share their address among themselves (SO_REUSEPORT), so a second server at
    the same address would be let in silently. Raises OSError."""
    for family, kind, proto, _, address in socket.getaddrinfo(
        host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
    ):
        with socket.socket(family, kind, proto) as probe:
            if sys.platform != "win32":
                probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            if family == socket.AF_INET6 and hasattr(socket, "IPV6_V6ONLY"):
                probe.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
            try:
                probe.bind(address)
            except OSError as error:
                # A machine without IPv6 has no such address; that is nobody else's doing.
                if error.errno != errno.EADDRNOTAVAIL or family != socket.AF_INET6:
                    raise


def allow_many_connections() -> None:
    """A kept connection is an open file, and many systems begin with 1,024 of them (256 on
    macOS). The children inherit what is allowed here."""
    if sys.platform == "win32":
        return
    import resource

    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = 16_384 if hard == resource.RLIM_INFINITY else min(hard, 16_384)
    if soft != resource.RLIM_INFINITY and soft < wanted:
        with contextlib.suppress(ValueError, OSError):
            resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))
