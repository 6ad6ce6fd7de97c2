"""Writes everything a school has into one file, or proves such a file whole."""

from __future__ import annotations

import _thread
import signal
import threading
from argparse import ArgumentParser
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Never

from django.core.management.base import BaseCommand
from django.db import DatabaseError

from studio.keeping.daily import made_by_hand, run_daily
from studio.keeping.proving import prove
from studio.keeping.refusals import NotKept, NotWhole, Unusable, disk_words, one_line
from studio.keeping.writing import Made
from studio.serving import lifeline
from studio.serving.nice import be_nice


class Command(BaseCommand):
    requires_system_checks: list[str] = []  # it has no pages
    help = (
        "Writes database, uploaded files and key into FILE while the app runs. Ends with 1 when "
        "that (or a check) fails and with 2 when FILE cannot be used."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", nargs="?", type=Path, metavar="FILE")
        what = parser.add_mutually_exclusive_group()
        what.add_argument("--check", action="store_true", help="prove FILE whole, change nothing")
        what.add_argument(
            "--daily",
            action="store_true",
            help="make today's backup in the backup folder and let old ones go; says nothing "
            "where none is due",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        file: Path | None = options["file"]
        if file is not None and options["daily"]:
            self._end(2, "--daily takes no file; BENCHLEDGER_BACKUP_FOLDER says where.")
        try:
            with _stopped_gently():
                if options["daily"]:
                    be_nice()  # nobody waits for it, and pages are asked for meanwhile
                    made = run_daily()
                    if made is not None:  # the server asks every quarter of an hour
                        self._say(made)
                elif file is None:
                    self._end(2, "Name the file of the backup.")
                elif options["check"]:
                    self._check(file)
                else:
                    self._say(made_by_hand(file))
        except Unusable as error:
            self._end(2, str(error))
        except NotWhole as error:
            self._end(1, *error.faults)
        except NotKept as error:
            self._end(1, f"No backup was made. {error}")
        except DatabaseError as error:
            said = one_line(str(error))
            self._end(1, f"No backup was made. The database does not answer: {said}.")
        except OSError as error:
            self._end(2, disk_words(error, file or "the backup folder"))

    def _check(self, file: Path) -> None:
        manifest = prove(file)
        self.stdout.write(
            f"Whole: {sum(manifest.tables.values())} rows in {len(manifest.tables)} tables, "
            f"{len(manifest.evidence)} files, the key; made {manifest.made_at}."
        )
        self._say_missing(manifest.missing)

    def _say(self, made: Made) -> None:
        self.stdout.write(
            f"Kept in {made.file}: {made.rows} rows in {made.tables} tables, {made.files} files, "
            f"the key; {made.size_bytes} bytes."
        )
        self._say_missing(made.missing)

    def _say_missing(self, missing: tuple[str, ...]) -> None:
        if missing:
            self.stdout.write(
                f"{len(missing)} files were lost before: rows name them and the store did not have "
                f"them ({', '.join(missing[:3])}{' …' if len(missing) > 3 else ''})."
            )

    def _end(self, status: int, *lines: str) -> Never:
        for line in lines:
            self.stderr.write(line)
        raise SystemExit(status)


@contextmanager
def _stopped_gently() -> Iterator[None]:
    """A server that ends, or is gone, ends this too: what is unfinished is taken away first."""
    held = lifeline.is_held()
    told = False

    def stop(*_: object) -> None:
        nonlocal told
        if not told:  # a server says it twice over, and cleaning up is not to be broken off
            told = True
            raise SystemExit(143)

    try:
        before = signal.signal(signal.SIGTERM, stop)
    except ValueError:  # not in the main thread, as under a test
        yield
        return
    if held:
        lifeline.watch(_stop_the_main_thread)
    try:
        yield
    finally:
        # The second word may come when all is cleaned up, and is not to change how we end.
        signal.signal(signal.SIGTERM, signal.SIG_IGN if told else before)


def _stop_the_main_thread() -> None:
    """As SIGTERM would; where there are real signals, also out of a wait for another program."""
    if hasattr(signal, "pthread_kill"):
        main = threading.main_thread().ident
        assert main is not None
        signal.pthread_kill(main, signal.SIGTERM)
    else:
        _thread.interrupt_main(signal.SIGTERM)
