"""How the server answers while a whole school reads: an installation of its own, and readers.

population   fills an empty installation with a school; runs in a process of its own
installation starts and ends that installation, on a free port of this machine
client       the readers, in a process of their own; standard library only, no Django
figures      percentiles and the table

Nothing here is ever sent anywhere but to 127.0.0.1.
"""
