"""`manage.py bench_load`: how the server answers while a whole school reads, uploads and prints."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from studio.loading.figures import table, verdict
from studio.loading.installation import Unmeasured, installation, read
from studio.loading.wanted import Mode, School, Seen

MOST_STUDENTS, MOST_SECONDS, MOST_IDLE = 500, 300.0, 2000
READS_A_STUDENT = 0.1
"""A student turns a page every ten seconds: 15 requests a second in a school of 150."""
ALONE_RATE = 5.0
WARMING_READERS = 12
"""Each over a connection of its own, which the system deals out by chance: so many that every
process has seen every page once, or the odds are a thousand to one. The first look at a plan is
worked out there, and would otherwise count for idle alone."""
WARMING_SECONDS = 300.0


class Command(BaseCommand):
    """Only ratios mean anything: readers and server share the machine."""

    help = (
        "Starts an installation of its own, fills it with a school, and prints how long pages "
        "take: idle, beside idle connections, with all students, and with all work at once."
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--students", type=int, default=150, help="readers (150)")
        parser.add_argument("--seconds", type=float, default=40.0, help="for each mode (40)")
        parser.add_argument("--idle", type=int, default=300, help="idle connections (300)")
        parser.add_argument(
            "--database",
            default="",
            metavar="URL",
            help="a PostgreSQL server, as in DATABASE_URL; a new database is made there and "
            "dropped at the end (SQLite without it)",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        students, seconds, idle = options["students"], options["seconds"], options["idle"]
        _within("--students", students, 3, MOST_STUDENTS)
        _within("--seconds", seconds, 1, MOST_SECONDS)
        _within("--idle", idle, 0, MOST_IDLE)
        database = options["database"]
        if database and not database.startswith(("postgres://", "postgresql://")):
            raise CommandError(
                "--database: an address such as postgres://… is wanted", returncode=2
            )
        try:
            seen = self._measured(students, seconds, idle, database)
        except Unmeasured as error:
            raise CommandError(f"Nothing was measured: {error}.", returncode=2) from error
        self.stdout.write(table("PostgreSQL" if database else "SQLite", seen))
        self.stdout.write(verdict(seen))
        wrong = [one for mode in seen for one in mode.errors]
        for one in wrong[:20]:
            self.stderr.write(one)
        if wrong:
            raise CommandError(f"{len(wrong)} requests were not answered as they should be.")

    def _measured(self, students: int, seconds: float, idle: int, database: str) -> list[Seen]:
        # The plan that is placed meanwhile is looked for as long as the readers read.
        with installation(database, placing_seconds=seconds + 30) as own:
            self._say(f"Making a school of {students} students …")
            school = own.fill(students)
            with own.served() as server:
                self._say("Every page is looked at once …")
                warming = Mode("warming", WARMING_READERS, 0, WARMING_SECONDS, every_page=True)
                read(server.port, school, warming)
                seen = []
                for mode in modes(school, students, seconds, idle):
                    self._say(f"{mode.name}: {seconds:.0f} s …")
                    seen.append(read(server.port, school, mode))
                self._say("What came of the work …")
                seen[-1].finished, wrong = own.outcomes()
                seen[-1].errors += wrong
            self._say(f"The server ended in {server.ended_in_seconds:.1f} s.")
        return seen

    def _say(self, text: str) -> None:
        self.stderr.write(text)
        self.stderr.flush()


def modes(school: School, students: int, seconds: float, idle: int) -> list[Mode]:
    rate = students * READS_A_STUDENT
    work = [*school.plans, *school.uploads, *school.prints]
    return [
        Mode("idle, one reader", 1, ALONE_RATE, seconds),
        Mode(f"beside {idle} idle connections", 1, ALONE_RATE, seconds, idle=idle),
        Mode(f"{students} students", students, rate, seconds),
        Mode(
            f"the same with {len(school.views)} print views at once",
            students,
            rate,
            seconds,
            deeds=school.views,
        ),
        Mode(
            f"the same with {len(school.plans)} plan, {len(school.uploads)} uploads and "
            f"{len(school.prints)} class prints at once",
            students,
            rate,
            seconds,
            deeds=work,
        ),
    ]


def _within(name: str, value: float, least: float, most: float) -> None:
    if not least <= value <= most:
        raise CommandError(f"{name}: a number from {least} to {most:g} is wanted", returncode=2)
