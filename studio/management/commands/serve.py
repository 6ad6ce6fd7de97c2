"""Serves the app, with its worker, until told to end."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from studio.config.environment import missing_pdf_libraries
from studio.serving.opening import is_this_machine, make_ready, names_of_others, serve

NO_NAME = (
    "Other machines can reach it but are shown nothing yet: it answers to this machine's own names "
    "alone. Start it with the name or address that they type, such as "
    "BENCHLEDGER_HOSTS=192.0.2.10."
)


class Command(BaseCommand):
    help = "Prepares database and static files, then serves the app together with its worker."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--host", default="127.0.0.1", help="address to listen on")
        parser.add_argument("--port", type=int, default=8000)

    def handle(self, *args: Any, **options: Any) -> None:
        if settings.BEHIND_TLS and not settings.PROXIES:
            raise CommandError(
                "BENCHLEDGER_TLS=1 says that a proxy speaks TLS for this server, but none is "
                "named, so every page would be sent to itself for ever. Name the proxy's address "
                "as seen from here, such as BENCHLEDGER_PROXIES=127.0.0.1.",
                returncode=2,
            )
        host, port = options["host"], options["port"]
        make_ready()
        missing = missing_pdf_libraries()
        if missing:
            self.stderr.write(missing)

        def tell(code: str | None) -> None:
            self.stdout.write(f"Benchledger answers at http://{host}:{port}/")
            if not is_this_machine(host) and not names_of_others():
                self.stdout.write(NO_NAME)
            if code is not None:
                self.stdout.write(f"The first visitor makes the school with this code: {code}")
            self.stdout.flush()

        try:
            serve(host, port, told=tell)
        except OSError as error:
            raise CommandError(
                f"Cannot listen on {host}:{port} ({error}); choose another with --port."
            ) from error
