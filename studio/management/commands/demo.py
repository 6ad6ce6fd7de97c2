"""Shows the whole job on a fresh machine: the demo school, one run of the main job, the app."""

from __future__ import annotations

from argparse import ArgumentParser
from collections.abc import Callable
from functools import partial
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from classroom.models import School
from studio.config.environment import missing_pdf_libraries
from studio.demo.people import PASSPHRASE, SCHOOL
from studio.demo.show import run_main_job
from studio.demo.story import tell
from studio.serving.opening import make_ready, make_sure_it_is_free, serve


class Command(BaseCommand):
    help = "Loads the demo school, runs the main job once for real, then serves the app."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--no-serve", action="store_true", help="do all but serve")
        parser.add_argument("--port", type=int, default=8000)

    def handle(self, *args: Any, **options: Any) -> None:
        if not options["no_serve"]:
            self._listen(options["port"], make_sure_it_is_free)  # said now, not after minutes
        make_ready()
        if School.objects.filter(name=SCHOOL).exists():
            self.stdout.write(f"{SCHOOL} is here already (kept in {settings.VAR_DIR}).")
        else:
            self.stdout.write(f"Making {SCHOOL}: a class, its rack, its briefs and their work …")
            self.stdout.flush()
            tell()
        self.stdout.write("\nThe main job, once, for real:")
        for line in run_main_job(settings.VAR_DIR / "demo-prints"):
            self.stdout.write(f"  {line}")
        missing = missing_pdf_libraries()
        if missing:
            self.stdout.write(f"\n{missing}")
        self._say_how_to_sign_in(options["port"])
        if options["no_serve"]:
            return
        self._listen(options["port"], partial(serve, told=lambda _: None))

    def _listen(self, port: int, how: Callable[[str, int], None]) -> None:
        try:
            how("127.0.0.1", port)
        except OSError as error:
            raise CommandError(
                f"Port {port} cannot be used ({error}); choose another with --port."
            ) from error

    def _say_how_to_sign_in(self, port: int) -> None:
        self.stdout.write(
            f"\nAddress      http://127.0.0.1:{port}/\n"
            "Teacher      marit\n"
            "Students     anouk.b (at the bench), dov.l (pattern to mend), "
            "vesna.n (from a photo), wick.y …\n"
            f"Passphrase   {PASSPHRASE} (everybody's, in the demo only)"
        )
        self.stdout.flush()  # a log, too, is to say where it answers
