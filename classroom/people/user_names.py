"""User names from names: plain ASCII, short, unique in the whole installation."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from functools import reduce
from operator import or_

from django.db.models import Q

from classroom.models import User

# Letters that do not fall apart into a plain letter and an accent.
_PLAIN = str.maketrans(
    {
        "ß": "ss", "æ": "ae", "œ": "oe", "ø": "o", "đ": "d", "ð": "d", "þ": "th",
        "ł": "l", "ı": "i", "ħ": "h", "ŋ": "n",
    }
)  # fmt: skip
_LONGEST = 32  # room for a number after it


def plain_name(display_name: str) -> str:
    """“Zoë Åkers” becomes “zoe.akers”; “student” where no Latin letter or digit is left."""
    together = display_name.casefold().replace("'", "")  # as ’ goes, which is not ASCII
    apart = unicodedata.normalize("NFKD", together.translate(_PLAIN))
    ascii_only = apart.encode("ascii", "ignore").decode()
    words = re.findall(r"[a-z0-9]+", ascii_only)
    return ".".join(words)[:_LONGEST].strip(".") or "student"


def free_user_names(display_names: Iterable[str]) -> list[str]:
    """A free user name for each name, in order: wren.t, wren.t2, wren.t3 …"""
    wanted = [plain_name(name) for name in display_names]
    alike = reduce(or_, (Q(username__startswith=base) for base in set(wanted)), Q(pk=None))
    taken = set(User.objects.filter(alike).values_list("username", flat=True))
    names = []
    for base in wanted:
        name, number = base, 1
        while name in taken:
            number += 1
            name = f"{base}{number}"
        taken.add(name)
        names.append(name)
    return names
