"""Takes up the placing jobs and errands of workers that have gone, once or again and again."""

from __future__ import annotations

import logging
import os
import signal
import time
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import InterfaceError, OperationalError, close_old_connections, connections

from classroom.files.waiting_files import clear_out
from studio.running.errands import look_after
from studio.running.placing.anew import lay_anew
from studio.running.placing.reaping import reap
from studio.running.trials import reaping as trials
from studio.running.ways import reaping as ways
from studio.serving import lifeline

logger = logging.getLogger(__name__)


class Command(BaseCommand):
    help = (
        "Queues again the jobs and errands whose worker has gone (the worker itself does it too)."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--every", type=float, help="go on, looking every so many seconds")

    def handle(self, *args: Any, **options: Any) -> None:
        every = options["every"]
        if every is not None and not 1 <= every <= 3600:
            raise CommandError("--every: a number from 1 to 3600 is wanted", returncode=2)
        if lifeline.is_held():  # `serve` started it, and says when to end
            signal.signal(signal.SIGINT, signal.SIG_IGN)
            lifeline.watch(lambda: os._exit(0))
        started = False
        while True:
            try:
                found = reap()
                if not started:
                    lay_anew()
                    started = True
                look_after()
                trials.reap()
                ways.reap()
                clear_out()
            except (OperationalError, InterfaceError) as away:
                if every is None:
                    raise CommandError(f"The database does not answer ({away}).") from away
                # In a district this is the one that takes up what was lost: it waits, too.
                logger.warning("reap: the database does not answer (%s); trying again", away)
                connections.close_all()
                found = 0
            if found or every is None:
                self.stdout.write(f"{found} placing jobs taken up again or given up.")
            if every is None:
                return
            time.sleep(every)
            close_old_connections()
