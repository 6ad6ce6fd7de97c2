"""Which search this is: stored with every plan."""

ENGINE_VERSION = "10"
"""Stored with every plan: the same job, seed, rounds and version give the same placements."""

WITHOUT_COMPILING = 1_000_000
"""Added to the rounds of a plan made without the compiled search, which was not ready in time:
such a plan is made again by asking for as many rounds, with or without compiled loops."""
