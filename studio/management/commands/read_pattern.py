"""Prints what the app would have read out of a pattern file; needs no database."""

from __future__ import annotations

import json
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any, NoReturn

from django.core.management.base import BaseCommand

from studio.core.checking import check
from studio.core.drawing import FLATTENING_TOLERANCE_MM, Limits
from studio.core.reading import Asked, PatternError, Tracing, Upload, assemble, read_pattern
from studio.core.reading.uploads import MOST_BYTES, check_size

FORMAT_VERSION = 1


class Command(BaseCommand):
    help = (
        "Reads a pattern (a drawing, or a scan or photo of inked paper) and prints its pieces "
        "and findings as JSON in millimetres. "
        "Exit status 2 and one line on standard error when the file cannot be used."
    )
    requires_system_checks: list[str] = []  # Django's own attribute
    requires_migrations_checks = False

    def create_parser(self, prog_name: str, subcommand: str, **kwargs: Any) -> Any:
        parser = super().create_parser(prog_name, subcommand, **kwargs)
        # Django raises a many-line usage message; the seam promises one line.
        parser.error = _refuse  # type: ignore[method-assign]
        return parser

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", metavar="FILE", help="the pattern")
        parser.add_argument(
            "--width-mm",
            type=float,
            help="the drawing, from its leftmost to its rightmost line, is this wide; "
            "overrides the file's own units",
        )
        parser.add_argument(
            "--dpi", type=float, help="dots (px) per inch where the file states no size"
        )
        parser.add_argument("--frame", help="which printed capture frame a photo shows")
        parser.add_argument("--out", metavar="FILE", help="write the JSON here, not to the screen")

    def handle(self, *args: Any, **options: Any) -> None:
        path = Path(options["file"])
        try:
            data = _bytes_of(path)
            check_size(Upload(data, Asked(path.name)))
            tracing = read_pattern(
                data,
                filename=path.name,
                width_mm=options["width_mm"],
                dpi=options["dpi"],
                frame=options["frame"],
            )
        except (OSError, ValueError) as broken:
            _refuse(f"{path}: {_why(broken)}")
        except PatternError as refused:
            _refuse(f"{path}: {refused}")
        text = json.dumps(answer(tracing), ensure_ascii=False, allow_nan=False, indent=1)
        if options["out"] is None:
            self.stdout.write(text)
            return
        try:
            Path(options["out"]).write_text(text + "\n", encoding="utf-8")
        except (OSError, ValueError) as broken:
            _refuse(f"{options['out']}: {_why(broken)}")


def answer(tracing: Tracing) -> dict[str, Any]:
    """The command's JSON; its form changes only with `FORMAT_VERSION`."""
    assembly = assemble(tracing)
    checked = check(assembly.drawing, Limits())
    source = tracing.source
    return {
        "version": FORMAT_VERSION,
        "source": {"kind": source.kind, "units": source.units, "scale_from": source.scale_from},
        "pieces": assembly.drawing.to_json(),
        "findings": [
            finding.to_json() for finding in (*tracing.findings, *assembly.findings, *checked)
        ],
        "tolerance_mm": FLATTENING_TOLERANCE_MM,
    }


def _bytes_of(path: Path) -> bytes:
    """At most one byte more than is read at all, so that a huge file costs nothing."""
    if path.is_dir():
        raise IsADirectoryError(21, "This is a folder, not a file.")
    with path.open("rb") as file:
        return file.read(MOST_BYTES + 1)


def _why(broken: Exception) -> str:
    match broken:
        case FileNotFoundError():
            return "There is no such file."
        case IsADirectoryError():
            return "This is a folder, not a file."
        case PermissionError():
            return "You may not read or write this file."
        case OSError():
            return broken.strerror or "This file cannot be read."
        case _:
            return "This is not the name of a file."


def _refuse(message: str) -> NoReturn:
    line = " ".join("".join(char if char.isprintable() else " " for char in message).split())
    sys.stderr.write(line + "\n")
    raise SystemExit(2)
