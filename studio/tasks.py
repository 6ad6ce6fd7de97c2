"""What runs in the background, behind Django's tasks interface: which queue is a setting.

Pages and steps enqueue; what a task runs is for workers only, so it is imported in the task.
"""

from __future__ import annotations

from django.conf import settings
from django_tasks import TaskContext, task


@task(takes_context=True)
def place_plan(context: TaskContext, job_pk: int) -> bool:
    """Place the pieces of one plan; harmless when the job is done or somebody else is at it."""
    from studio.running.naming import worker_name
    from studio.running.placing.doing import run

    return run(
        job_pk,
        worker_name(context.task_result.id),
        again=place_plan.enqueue,
        apart=settings.PLACING_APART,
    )


@task(takes_context=True, queue_name="desk")
def do_errand(context: TaskContext, errand_pk: int) -> bool:
    """Read one upload or make one PDF; harmless when it is done or somebody else is at it."""
    from studio.running.errands.doing import run
    from studio.running.naming import worker_name

    return run(errand_pk, worker_name(context.task_result.id), again=do_errand.enqueue)
