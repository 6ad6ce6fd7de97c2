"""Why a body did not arrive whole: what the server's loop says, and a page puts in words."""

from typing import Final

BUSY: Final = 503
LATE: Final = 408
LARGE: Final = 413
FULL: Final = 507
