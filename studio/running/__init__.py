"""Work behind the pages: what jobs and errands mean, not the processes that run them (`serving`).

placing   a plan is placed: one job from claim to proposed plan
errands   slow work of people: files read, papers drawn up
closing   the one word "we are ending", heard by whatever takes long
signs     a worker's signs of life, by which `/health/` knows it
health    is the database there, is a worker there?
naming    how a worker is called in a lease
"""
