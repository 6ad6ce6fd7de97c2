"""Which sheet does an address mean?"""

from __future__ import annotations

from django.http import Http404

from studio.core.practice import BY_CODE, Sheet


def sheet_called(code: str) -> Sheet:
    """The practice sheet of this code; anything else is not found."""
    try:
        return BY_CODE[code]
    except KeyError:
        raise Http404("There is no practice sheet of that name.") from None
