"""A form with a file that need not be chosen again while something else in it is mended."""

from __future__ import annotations

from typing import Any

from django import forms

from classroom.models import WaitingFile
from classroom.refusals import Busy, Refused


class KeptFileForm(forms.Form):
    """`kept` is a file from an earlier try; another one may be chosen in its place."""

    kept: WaitingFile | None = None
    busy: Busy | None = None

    def use_kept(self, kept: WaitingFile | None) -> None:
        self.kept = kept
        self.fields["file"].required = kept is None

    def names(self) -> list[str]:
        """Fields whose words come along when the file is read elsewhere."""
        return [name for name in self.fields if name != "file"]

    def again(self, why: str, on: str) -> Any:
        """Show why it came to nothing, on a field or above all."""
        self.is_valid()
        self.add_error(on if on in self.fields else None, why)
        return self

    def refuse(self, refusal: Refused) -> None:
        """A rule says no to what was sent, such as a day's bound or too much at this moment."""
        self.busy = refusal if isinstance(refusal, Busy) else None
        self.add_error(None, str(refusal))
