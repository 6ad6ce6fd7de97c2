"""One errand from claim to outcome: what a worker does."""

from __future__ import annotations

import logging
from collections.abc import Callable

from django.core.exceptions import PermissionDenied
from django.db import InterfaceError, OperationalError, transaction
from django.http import Http404
from django.utils.translation import gettext

from classroom.files.full_disk import is_full
from classroom.files.full_disk import words as full_disk
from classroom.languages import in_language
from classroom.refusals import Refused
from studio.core.confining import Ended
from studio.models import Errand
from studio.running.closing import ENDING

from . import lease, metal_pieces, papers, patterns
from .files import drop_input
from .keeping import Deed, turned_down

logger = logging.getLogger(__name__)

DATABASE_AWAY = (OperationalError, InterfaceError)
PAUSES = (1, 2, 4)
"""Seconds between tries to write down that the disk is full, which needs a little room."""
DOERS: dict[str, Callable[[Errand], Deed]] = {
    Errand.Kind.PATTERN: patterns.bring,
    Errand.Kind.SIZE: patterns.answer,
    Errand.Kind.METAL: metal_pieces.photograph,
    Errand.Kind.OUTLINE: metal_pieces.outline,
    Errand.Kind.PRINT: papers.make,
}
"""Each does what is slow, writes nothing, and answers with the deed. Raises Refused."""


def run(errand_pk: int, worker: str, *, again: Callable[[int], object] | None = None) -> bool:
    """Do the errand if it is free; True when this very call ended it.

    A worker that is told to end puts the errand back and calls `again` with it. Raises what a
    database raises that is away: the errand keeps its lease, and the reaper queues it again.
    """
    errand = lease.claim(errand_pk, worker)
    if errand is None:
        return False
    with in_language(errand.asked.get("language", "en")):
        try:
            return _do(errand, worker)
        except Ended:
            put_back(errand_pk, worker, again)
            return False
        except Exception as error:
            # Asked before anything else: a database tells of a full disk by the very errors of
            # one that is away.
            if not is_full(error):
                raise
            logger.exception("errand %s: the disk is full", errand_pk)
        return _end_without_room(errand, worker)


def _do(errand: Errand, worker: str) -> bool:
    try:
        with lease.renewed(errand, worker):
            deed = DOERS[errand.kind](errand)
        return _end(errand, worker, deed)
    except Refused as refusal:
        return _end(errand, worker, turned_down(errand, str(refusal)))
    except FileNotFoundError:
        gone = gettext("The file is no longer kept here. Choose it again.")
        return _end(errand, worker, lambda: {"refused": gone, "on": "file", "gone": True})
    except (Http404, PermissionDenied):
        gone = gettext("What this belongs to is not there any more.")
        return _end(errand, worker, lambda: {"refused": gone, "on": ""})
    except (*DATABASE_AWAY, Ended):
        raise
    except Exception as error:
        if is_full(error):
            raise
        # Whatever went wrong is written down here for us, and in plain words for the person.
        logger.exception("errand %s", errand.pk)
        fault = gettext(
            "This was stopped by a fault in the program, which has been written down for "
            "those who look after it. Try again, or with another file."
        )
        return _end(errand, worker, turned_down(errand, fault), lease.FAILED)


def put_back(errand_pk: int, worker: str, again: Callable[[int], object] | None) -> None:
    """The next worker does it at once, and nobody's attempt is counted."""
    with transaction.atomic():
        if lease.give_back(errand_pk, worker) and again is not None:
            transaction.on_commit(lambda: again(errand_pk))
    logger.info("errand %s is put back, as this worker ends", errand_pk)


def _end_without_room(errand: Errand, worker: str) -> bool:
    """End it in words about the disk, without the file's copy for the form if need be.

    Where not even the words find room, the errand waits without an attempt counted: the reaper
    queues it again after some minutes, and ends it in those words after hours.
    """
    why = full_disk()
    ways: tuple[Deed, ...] = (turned_down(errand, why), lambda: {"refused": why, "on": ""})
    for pause in PAUSES:
        for way in ways:
            try:
                return _end(errand, worker, way, lease.FAILED)
            except Exception as error:
                if not is_full(error):
                    raise
        logger.warning("errand %s: no room to write down that the disk is full", errand.pk)
        ENDING.wait(pause)
    lease.give_back(errand.pk, worker, **{lease.NO_ROOM: True})
    return False


def _end(errand: Errand, worker: str, deed: Deed, state: str = lease.DONE) -> bool:
    """The lease first: where it is lost, or the errand called off, nothing is changed."""
    with transaction.atomic():
        if not lease.conclude(errand.pk, worker, state):
            return False
        Errand.objects.filter(pk=errand.pk).update(outcome=deed())
        drop_input(errand)
    return True
