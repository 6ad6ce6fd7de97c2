"""A form with a file that need not be chosen again while something else in it is mended."""

from __future__ import annotations

from typing import Any

from django import forms

from classroom.models import WaitingFile


class KeptFileForm(forms.Form):
    """`kept` is a file from an earlier try; another one may be chosen in its place."""

    kept: WaitingFile | None = None

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
