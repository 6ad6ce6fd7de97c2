"""What runs while a school is open: one supervisor, web processes, one worker, and their health.

serving      the `serve` command's work: make ready, then supervise until told to end
supervising  starts children, starts dead ones again, ends them in time
lifeline     how a child notices that its parent is gone, on every system
web          the child that answers pages
worker       the child that does background work: placing, reading files, making PDF
loops        one queue's loop, which outlives a database that is away
closing      the one word "we are ending", heard by whatever takes long
signs        a worker's signs of life, by which `/health/` knows it
health       is the database there, is a worker there?
door         the server's door: receives by the event loop, answers by threads
bodies       forms and files arrive whole before a page's thread begins with them
proxies      whose word about the client's address and scheme is believed
"""
