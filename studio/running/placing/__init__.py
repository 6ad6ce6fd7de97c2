"""Placing in the background: how a plan comes about, and how a job survives a killed worker.

A queue delivers a task at most once and forgets it when its worker is killed. So each plan has
a `PlacingJob` row of our own. A worker *claims* it by compare-and-swap and gets a lease, which
every progress report renews. A worker that stops reporting loses the lease; the *reaper* then
queues the job again, three times at most. Whatever a worker without the lease still finds is
ignored. All of it is plain conditional updates, so it holds on SQLite and PostgreSQL, with one
worker or with many on other machines.

    doing      one job from claim to proposed plan
    reaping    jobs whose worker has gone

What the engine is asked and who may write a job's state stand in `studio.steps.plans` (`asking`,
`lease`), because pages ask them too.
"""
