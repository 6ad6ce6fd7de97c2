"""The Celery application of a district's workers: `celery -A studio.queues.celery_app worker`."""

from __future__ import annotations

import os

from celery import Celery
from django.conf import settings

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.config.settings")

app = Celery("benchledger")
app.conf.update(
    include=["studio.queues.celery_backend"],  # where the one Celery task is
    broker_url=settings.BROKER_URL or "memory://",
    task_default_queue="default",
    task_ignore_result=True,  # what came out stands in the database, with its lease
    task_serializer="json",
    accept_content=["json"],
    timezone="UTC",
    # A message is given back when its worker is lost; claiming it twice is harmless.
    task_acks_late=True,
    task_reject_on_worker_lost=True,
    worker_prefetch_multiplier=1,
    broker_connection_retry_on_startup=True,
    # A broker that is away over a night does not end the workers.
    broker_connection_max_retries=None,
    # But a page does not wait for it: the reaper sends again what could not be sent.
    task_publish_retry_policy={"max_retries": 1, "interval_start": 0, "interval_max": 0.2},
    broker_connection_timeout=2,
    broker_transport_options={"socket_connect_timeout": 2},
    # Django sets up logging; two set-ups would print every line twice.
    worker_hijack_root_logger=False,
)
