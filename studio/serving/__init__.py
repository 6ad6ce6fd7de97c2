"""The processes that run while a school is open: one supervisor, web processes, one worker.

house        the `serve` command's work: make ready, then supervise until told to end
supervising  starts children, starts dead ones again, ends them in time
lifeline     how a child notices that its parent is gone, on every system
web          the child that answers pages
door         the server's door: receives by the event loop, answers by threads
bodies       forms and files arrive whole before a page's thread begins with them
worker       the child that does background work: placing, reading files, making PDF
loops        one queue's loop, which outlives a database that is away
nice         who steps back for whom on one machine

What the work means stands in `studio.running`; whose word is believed about a client, in
`studio.config.proxies`.
"""
