"""Collected static files whose compressed forms may be read by whom the plain ones may."""

from __future__ import annotations

import os
from typing import Any

from whitenoise.compress import Compressor
from whitenoise.storage import CompressedManifestStaticFilesStorage


class ReadableCompressor(Compressor):  # type: ignore[misc]
    """The compressor asks nobody for a mode, and what the house makes is private else."""

    mode: int | None = None

    def write_data(self, *args: Any, **kwargs: Any) -> str:
        name = str(super().write_data(*args, **kwargs))
        if self.mode is not None:
            os.chmod(name, self.mode)  # noqa: PTH101
        return name


class ReadableStaticFilesStorage(CompressedManifestStaticFilesStorage):  # type: ignore[misc]
    def create_compressor(self, **kwargs: Any) -> Compressor:
        made = ReadableCompressor(**kwargs)
        made.mode = self.file_permissions_mode
        return made
