"""Whom the throttle lets by: a device that has signed in before, and who holds the door code.

Both follow "Slow Down Online Guessing Attacks with Device Cookies" (OWASP): tries from a device
that has proved itself for an account are counted by themselves, so nobody's guessing elsewhere
holds them up. The cookie is signed and names the passphrase that it was earned with by a mark: a
new passphrase ends it. The door code stands on the sign-in card and on the person's own page; it
opens nothing without the passphrase.
"""

from __future__ import annotations

import re
import secrets
from dataclasses import dataclass

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils.crypto import constant_time_compare, salted_hmac

from classroom.models import User

COOKIE = "known_device"
SALT = "classroom.known-devices"
LASTS = 60 * 60 * 24 * 180
ACCOUNTS_MOST = 8
"""A shared machine keeps so many people; who was longest away gives way."""

# No letters that look like digits or like each other (after D. Crockford's base 32).
SIGNS = "0123456789abcdefghjkmnpqrstvwxyz"
CODE_SIGNS = 8


@dataclass(frozen=True, slots=True)
class Device:
    """What a browser's cookie says: a number drawn once, and whose passphrases it has seen."""

    number: str
    marks: tuple[tuple[int, str], ...]

    def knows(self, person: User) -> bool:
        return any(
            pk == person.pk and constant_time_compare(mark, mark_of(person))
            for pk, mark in self.marks
        )

    def voucher(self) -> User | None:
        """The person of this device who signed in last and still may, if any."""
        people = User.objects.filter(is_active=True).in_bulk([pk for pk, _ in self.marks])
        known = (people.get(pk) for pk, _ in self.marks)
        return next((one for one in known if one is not None and self.knows(one)), None)


def mark_of(person: User) -> str:
    """A short mark of the present passphrase, to notice that it changed; tells nothing of it."""
    return salted_hmac("classroom.passphrases", f"{person.pk}:{person.password}").hexdigest()[:16]


def device_of(request: HttpRequest) -> Device | None:
    """The device that the request's cookie names; None for none, a forged or an old one."""
    told = request.get_signed_cookie(COOKIE, default="", salt=SALT, max_age=LASTS)
    found = re.fullmatch(r"([0-9a-f]{24})((?:\.\d{1,15}-[0-9a-f]{16}){1,8})", str(told or ""))
    if found is None:
        return None
    pairs = (pair.split("-") for pair in found[2][1:].split("."))
    return Device(found[1], tuple((int(pk), mark) for pk, mark in pairs))


def remember_device(request: HttpRequest, response: HttpResponse, person: User) -> None:
    """Give the browser on which the person has just shown the passphrase its cookie."""
    device = device_of(request)
    number = device.number if device else secrets.token_hex(12)
    others = [(pk, mark) for pk, mark in (device.marks if device else ()) if pk != person.pk]
    marks = [(person.pk, mark_of(person)), *others][:ACCOUNTS_MOST]
    response.set_signed_cookie(
        COOKIE,
        ".".join([number, *(f"{pk}-{mark}" for pk, mark in marks)]),
        salt=SALT,
        max_age=LASTS,
        httponly=True,
        samesite="Lax",
        secure=settings.SESSION_COOKIE_SECURE,
    )


def door_code_of(person: User) -> str:
    """Eight signs such as “k7m2-9qxd”, another one for each passphrase; 40 bits, kept nowhere."""
    return door_code_with(person, person.password)


def door_code_with(person: User, hashed: str) -> str:
    """The code that comes with this hash, for a row that somebody else may be reading."""
    text = f"{person.pk}:{hashed}"
    drawn = salted_hmac("classroom.door-code", text, algorithm="sha256").digest()
    signs = "".join(SIGNS[byte % 32] for byte in drawn[:CODE_SIGNS])
    return f"{signs[:4]}-{signs[4:]}"


def is_door_code(person: User, typed: str) -> bool:
    return constant_time_compare(plain_code(door_code_of(person)), plain_code(typed))


def new_code(signs: int) -> str:
    """A code drawn by the system's secret chance, in two halves; five bits a sign."""
    drawn = "".join(secrets.choice(SIGNS) for _ in range(signs))
    return f"{drawn[: signs // 2]}-{drawn[signs // 2 :]}"


def plain_code(typed: str) -> str:
    """A code as it is compared: capitals, blanks and look-alikes do not matter."""
    small = re.sub(r"[^0-9a-z]", "", typed[:80].lower())
    return small.translate(str.maketrans("oil", "011"))
