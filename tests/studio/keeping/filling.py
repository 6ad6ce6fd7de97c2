"""A school with something in every corner that a backup must hold, by the house's own steps."""

from __future__ import annotations

from classroom.files.waiting_files import set_aside
from classroom.models import Substance
from classroom.safety.data_sheets import keep_sheet
from studio.core.reading import Asked, Upload
from studio.models import Pattern, Project
from studio.steps.patterns.read_in import read_in
from tests.people import make_cast
from tests.studio.bench.making import World, make_world

TAG = b"""<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="30mm" viewBox="0 0 40 30">
<path d="M5 5H35V25H5Z" fill="none" stroke="#000" stroke-width="0.2"/></svg>"""
SHEET = b"%PDF-1.4 a sheet of safety data %%EOF"
FILES = 4
"""A pattern's file, a waiting file with its small picture, a safety data sheet."""


def fill() -> World:
    """Metal handed out for one project, a pattern read in for another."""
    cast = make_cast()
    world = make_world(cast)
    done = world.project(cast.seat)
    world.issued(done)
    Pattern.objects.filter(project=done).update(file="")  # made without one
    drawing = Project.objects.create(
        brief=world.brief, seat=cast.classmate_seat, title="Drawn", metal=world.metal
    )
    read_in(drawing, Upload(TAG, Asked("tag.svg")), acting=cast.classmate)
    set_aside(cast.classmate, drawing, b"waits" * 900, file_name="scan.png", shown=b"small")
    sheet = keep_sheet(Substance(school=cast.school), SHEET)
    Substance.objects.create(school=cast.school, title="Own pickle", sheet_sha=sheet)
    return world
