"""Keeping everything a school has in one file, and bringing it back.

`writing` makes a backup, `proving` proves one whole, `restoring` brings one back. `daily` makes
one a day and lets old ones go, `upgrading` makes one before the database changes its shape, and
`telling` says on the first page what is not in order. studio/keeping/README.md has the format.
"""
