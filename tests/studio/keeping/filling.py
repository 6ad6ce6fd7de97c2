"""A filled installation in folders of its own, made by the house's own steps.

Run as a script in the environment of an installation: it makes the tables and the school.
"""

from __future__ import annotations

import json
from io import BytesIO

TAG = b"""<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="30mm" viewBox="0 0 40 30">
<path d="M5 5H35V25H5Z" fill="none" stroke="#000" stroke-width="0.2"/></svg>"""


def fill() -> dict[str, int]:
    """Two projects, one with its metal handed out; a pattern's file, a waiting file, a sheet."""
    from django.core.management import call_command

    from classroom.data_sheets import keep_sheet
    from classroom.models import Substance
    from classroom.waiting_files import set_aside
    from studio.models import Pattern, Project
    from studio.steps.read_in import read_in
    from tests.people import make_cast
    from tests.studio.bench.making import make_world

    call_command("migrate", interactive=False, verbosity=0)
    cast = make_cast()
    world = make_world(cast)
    done = world.project(cast.seat)
    world.issued(done)
    Pattern.objects.filter(project=done).update(file="")
    drawing = Project.objects.create(
        brief=world.brief, seat=cast.classmate_seat, title="Drawn", metal=world.metal
    )
    pattern = read_in(drawing, BytesIO(TAG), acting=cast.classmate, filename="tag.svg")
    set_aside(cast.classmate, drawing, b"waiting" * 1000, file_name="scan.png", shown=b"small")
    substance = Substance(school=cast.school, title="Own pickle")
    substance.sheet_sha = keep_sheet(substance, b"%PDF-1.4 a sheet of safety data %%EOF")
    substance.save()
    return {"pattern": pattern.pk, "files": 4}


def main() -> None:
    import django

    django.setup()
    print(json.dumps(fill()))


if __name__ == "__main__":
    main()
