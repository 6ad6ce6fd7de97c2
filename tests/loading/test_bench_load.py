"""`manage.py bench_load`: its figures, its bounds, and all of it at toy size."""

from __future__ import annotations

import tempfile
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from studio.loading.figures import percentile, table, verdict
from studio.loading.wanted import Seen


def test_percentiles_are_values_that_were_seen() -> None:
    values = [float(n) for n in range(1, 101)]
    assert percentile(values, 0.5) == 50
    assert percentile(values, 0.95) == 95
    assert percentile([7.0], 0.95) == 7
    assert percentile([3.0, 1.0, 2.0], 0.5) == 2
    assert percentile([], 0.95) == 0


def test_the_table_compares_each_mode_with_the_first() -> None:
    idle = Seen("idle", times_ms=[10.0] * 20)
    busy = Seen("busy", times_ms=[20.0] * 19 + [500.0], errors=["GET /: 500"], done=3, waited=1)
    rows = [
        [cell.strip() for cell in line.strip("|").split("|")]
        for line in table("SQLite", [idle, busy]).splitlines()
    ]
    assert rows[0] == ["SQLite", "idle", "busy"]
    figures = {row[0]: row[1:] for row in rows[2:]}
    assert figures["p95, ms"] == ["10", "20"]
    assert figures["p95 / idle"] == ["1.00", "2.00"]
    assert figures["told to wait"] == ["0", "1"]
    assert figures["errors"] == ["0", "1"]


@pytest.mark.parametrize(
    ("busy_ms", "errors", "word"),
    [(30.0, [], "met"), (31.0, [], "missed"), (30.0, ["GET /: 500"], "missed")],
)
def test_the_goal_is_three_times_idle_and_no_error(
    busy_ms: float, errors: list[str], word: str
) -> None:
    seen = [Seen("idle", times_ms=[10.0]), Seen("busy", times_ms=[busy_ms], errors=errors)]
    assert verdict(seen).startswith(f"Goal {word}")


@pytest.mark.parametrize(
    "words",
    [
        ["--students", "2"],
        ["--students", "501"],
        ["--seconds", "0"],
        ["--seconds", "nan"],
        ["--idle", "2001"],
        ["--database", "mysql://somewhere/else"],
    ],
)
def test_what_is_out_of_bounds_is_refused_before_anything_is_made(words: list[str]) -> None:
    with pytest.raises(CommandError) as refused:
        call_command("bench_load", *words)
    assert refused.value.returncode == 2


@pytest.mark.slow
def test_a_small_school_is_measured_and_taken_away_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    said = StringIO()
    call_command(
        "bench_load", students=3, seconds=2.0, idle=5, stdout=said, stderr=StringIO()
    )  # raises where a request was not answered as it should be
    rows = [line for line in said.getvalue().splitlines() if line.startswith("|")]
    figures = {row.split("|")[1].strip(): row.split("|")[2:-1] for row in rows}
    assert [int(cell) for cell in figures["errors"]] == [0, 0, 0, 0, 0]
    assert all(int(cell) > 0 for cell in figures["pages read"])
    taken, waited = ([int(cell) for cell in figures[name][-2:]] for name in (WORK, "told to wait"))
    assert taken[0] + waited[0] == 2  # print views
    assert taken[1] + waited[1] == 4  # a plan, an upload and two class prints
    assert int(figures["of these ended well"][-1]) == taken[1]
    assert not list(tmp_path.glob("benchledger-load-*"))


WORK = "uploads, prints, plans taken"


@pytest.mark.slow
@pytest.mark.postgres
def test_a_measurement_on_postgresql_has_a_database_of_its_own() -> None:
    psycopg = pytest.importorskip("psycopg")
    from studio.loading.databases import new_database
    from tests.running.postgres import cluster

    with cluster() as one:
        with new_database(one.url) as address:
            assert address != one.url
            with psycopg.connect(address, autocommit=True) as connection:
                connection.execute("CREATE TABLE somebody (name text)")
                (name,) = connection.execute("SELECT current_database()").fetchone()
        with psycopg.connect(one.url) as connection:
            left = connection.execute("SELECT datname FROM pg_database").fetchall()
            assert (name,) not in left
            tables = connection.execute("SELECT count(*) FROM pg_stat_user_tables").fetchone()
            assert tables == (0,)
