"""What runs in the background, behind Django's tasks interface: which queue is a setting."""

from __future__ import annotations

from django.conf import settings
from django_tasks import TaskContext, task

from .running.naming import worker_name
from .running.placing.doing import run


@task(takes_context=True)
def place_plan(context: TaskContext, job_pk: int) -> bool:
    """Place the pieces of one plan; harmless when the job is done or somebody else is at it."""
    return run(
        job_pk,
        worker_name(context.task_result.id),
        again=place_plan.enqueue,
        apart=settings.PLACING_APART,
    )


@task(takes_context=True, queue_name="desk")
def do_errand(context: TaskContext, errand_pk: int) -> bool:
    """Read one upload or make one PDF; harmless when it is done or somebody else is at it."""
    from .running.errands.doing import run as do  # what it brings along is for workers only

    return do(errand_pk, worker_name(context.task_result.id), again=do_errand.enqueue)
