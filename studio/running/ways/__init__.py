"""Other ways of a plan that is proposed, each worked out by a worker under a lease.

Nobody waits for them, so they come after plans and layouts in the queue; what a worker without the
lease still finds is ignored.

    doing      one way from claim to what it comes to
    reaping    those whose worker has gone
"""
