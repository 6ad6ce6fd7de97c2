"""How a rule says no: in words that tell the person what to do next."""

from __future__ import annotations


class Refused(Exception):
    """A rule of the house refuses; the message is shown to the person as it stands.

    Raised inside the transaction, so that nothing is half-saved. Views with a form catch it and
    show it on the form, keeping what was typed; for plain buttons `RefusalMiddleware` shows it
    as a message on the page the person came from.
    """
