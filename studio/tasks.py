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


@task(takes_context=True)
def work_out_way(context: TaskContext, try_pk: int) -> bool:
    """Work out another way of a plan; harmless when it is done or somebody else is at it."""
    from studio.running.naming import worker_name
    from studio.running.ways.doing import run

    return run(
        try_pk,
        worker_name(context.task_result.id),
        again=work_out_way.enqueue,
        apart=settings.PLACING_APART,
    )


@task(takes_context=True, queue_name="desk")
def do_errand(context: TaskContext, errand_pk: int) -> bool:
    """Read one upload or make one PDF; harmless when it is done or somebody else is at it."""
    from studio.running.errands.doing import run
    from studio.running.naming import worker_name

    return run(errand_pk, worker_name(context.task_result.id), again=do_errand.enqueue)


@task(takes_context=True, queue_name="trials")
def lay_first(context: TaskContext, pattern_pk: int) -> bool:
    """Lay the pattern on today's rack; harmless when that is done, or it cannot be laid."""
    from studio.running.naming import worker_name
    from studio.running.trials.doing import run_first

    return run_first(pattern_pk, worker_name(context.task_result.id))


@task(takes_context=True, queue_name="trials")
def lay_trial(context: TaskContext, trial_pk: int) -> bool:
    """Do one short search; harmless when it is done or somebody else is at it."""
    from studio.running.naming import worker_name
    from studio.running.trials.doing import run

    return run(trial_pk, worker_name(context.task_result.id))


@task(takes_context=True, queue_name="trials")
def say_what_would_change(context: TaskContext, trial_pk: int) -> bool:
    """One answer to what something else would change; the next comes after what waits."""
    from studio.running.naming import worker_name
    from studio.running.trials.others import run

    return run(trial_pk, worker_name(context.task_result.id))


@task(takes_context=True)
def lay_blank_anew(context: TaskContext, job_pk: int) -> bool:
    """Lay one student's pieces anew on the true blank; harmless when that is done."""
    from studio.running.naming import worker_name
    from studio.running.placing.relaying import run

    return run(job_pk, worker_name(context.task_result.id), apart=settings.PLACING_APART)
