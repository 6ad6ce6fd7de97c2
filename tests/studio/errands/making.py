"""People at the desk: forms sent as a browser sends them, and a worker that does what waits."""

from __future__ import annotations

import uuid
from typing import Any

import cv2
import numpy as np
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from studio.models import Errand, Project
from studio.running.errands.doing import run
from tests.inventory.pages import metal_of
from tests.people import Cast
from tests.studio.patterns.making import DISC, upload


def newest() -> Errand:
    errand = Errand.objects.last()
    assert errand is not None
    return errand


def work(worker: str = "desk/1") -> None:
    """Do everything that waits, in turn."""
    for errand in Errand.objects.still_open():
        run(errand.pk, worker)


def send_pattern(
    client: Client, project: Project, data: bytes = DISC, name: str = "disc.svg", **typed: str
) -> Any:
    sent = upload(data, name, metal=str(project.brief.metals.get().pk), **typed)
    return client.post(reverse("pattern_upload", args=[project.pk]), sent)


def follow(client: Client, errand: Errand | None = None) -> Any:
    """What the person sees who waits on the waiting page, redirects followed."""
    token = (errand or newest()).token
    return client.get(reverse("errand", args=[token]), follow=True)


def picture_of_a_square() -> bytes:
    """A page without a stated resolution, so its size has to be asked."""
    page = np.full((500, 700), 245, np.uint8)
    cv2.rectangle(page, (100, 100), (500, 400), 20, 6)
    return bytes(cv2.imencode(".png", page)[1].tobytes())


def send_photo(client: Client, cast: Cast, data: bytes, **changes: Any) -> Any:
    file = SimpleUploadedFile("metal.jpg", data, "image/jpeg")
    form = {"file": file, "way": "laid", "metal": metal_of(cast.school).pk} | changes
    return client.post(reverse("offcut_from_photo"), form)


def send_outline(client: Client, cast: Cast, data: bytes, **changes: Any) -> Any:
    form = {
        "file": SimpleUploadedFile("offcut.svg", data, "image/svg+xml"),
        "metal": metal_of(cast.school).pk,
        "cost": "4.90",
        "place": "top drawer",
        "reason": "traced",
        "once": str(uuid.uuid4()),
    }
    return client.post(reverse("offcut_from_svg"), form | changes)
