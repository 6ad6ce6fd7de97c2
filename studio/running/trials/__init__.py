"""Short searches in the background: trial layouts of patterns, and what people ask of the server.

A worker takes them from the queue "trials" under a lease (`studio.steps.layouts.trial_lease`), so
that neither an upload nor a class's cut plan waits for them, nor they for those.

    doing      one search from claim to what is kept
    wishes     what the engine is asked for each wish of somebody at a layout
    nearest    the smallest moves that end a layout's faults
    others     what a straightened side, another turn or another metal would change
    reaping    searches whose worker has gone
"""
