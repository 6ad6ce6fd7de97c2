"""Serves the app on this machine, with its worker."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from studio.environment import missing_pdf_libraries
from studio.serving import make_ready, serve


class Command(BaseCommand):
    help = "Prepares database and static files, then serves the app together with its worker."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--host", default="127.0.0.1", help="address to listen on")
        parser.add_argument("--port", type=int, default=8000)

    def handle(self, *args: Any, **options: Any) -> None:
        make_ready()
        missing = missing_pdf_libraries()
        if missing:
            self.stderr.write(missing)
        self.stdout.write(f"Benchledger answers at http://{options['host']}:{options['port']}/")
        try:
            serve(options["host"], options["port"])
        except OSError as error:
            raise CommandError(
                f"Cannot listen on {options['host']}:{options['port']} ({error}); "
                "choose another with --port."
            ) from error
