"""Placing in the background: what the engine is asked, and how a job survives a killed worker.

A queue delivers a task at most once and forgets it when its worker is killed. So each plan has
a `PlacingJob` row of our own. A worker *claims* it by compare-and-swap and gets a lease, which
every progress report renews. A worker that stops reporting loses the lease; the *reaper* then
queues the job again, three times at most. Whatever a worker without the lease still finds is
ignored. All of it is plain conditional updates, so it holds on SQLite and PostgreSQL, with one
worker or with many on other machines.

    ordering   projects and the rack's metal -> the engine's job
    lease      claim, report, finish, fail: the only writers of a job's state
    running    one job from claim to proposed plan
    reaping    jobs whose worker has gone
"""
