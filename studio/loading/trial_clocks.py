"""How long from an upload until its first cut plan is shown? One thread for each student.

Each does what a browser does: sends the file, waits on the waiting page, opens the pattern, and
asks for the panel as often as the panel itself says. Standard library only.
"""

from __future__ import annotations

import http.client
import re
import secrets
import threading
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from .talking import CSRF, HOME

SHOWN = 'data-figure="trial_price"'
AGAIN = re.compile(r'hx-get="([^"]*/trial/[^"]*)" hx-trigger="load delay:(\d+)ms"')
READING_LOOK_SECONDS = 0.3
PATIENCE_SECONDS = 60.0


@dataclass(slots=True)
class Clocked:
    """Seconds from the upload, and from the pattern being there, until the layout was shown."""

    from_upload: float = 0.0
    from_pattern: float = 0.0
    wrong: str = ""


def clock_all(
    port: int, students: list[dict[str, Any]], files: list[Path], within_seconds: float
) -> list[Clocked]:
    """All upload, evenly spread over that time."""
    found = [Clocked() for _ in students]

    def one(number: int) -> None:
        time.sleep(within_seconds * number / len(students))
        try:
            _clock(port, students[number], files[number % len(files)], found[number])
        except (OSError, http.client.HTTPException, ValueError) as error:
            found[number].wrong = f"{type(error).__name__}: {error}"

    threads = [threading.Thread(target=one, args=(k,)) for k in range(len(students))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return found


def _clock(port: int, student: dict[str, Any], file: Path, found: Clocked) -> None:
    line = http.client.HTTPConnection(HOME, port, timeout=PATIENCE_SECONDS)
    cookie = student["cookie"]
    kind, body = _form(student["metal"], file)
    headers = {
        "Cookie": f"{cookie}; csrftoken={CSRF}",
        "X-CSRFToken": CSRF,
        "Content-Type": kind,
    }
    began = time.monotonic()
    _, where, text = _ask(line, "POST", student["path"], headers, body)
    while "/patterns/" not in where or where.endswith("/upload/"):
        if time.monotonic() - began > PATIENCE_SECONDS:
            raise ValueError(f"no pattern: {where or text[:80]}")
        if not where:
            raise ValueError("the upload was refused")
        _, further, text = _ask(line, "GET", where, {"Cookie": cookie})
        if further:
            where = further
        else:
            time.sleep(READING_LOOK_SECONDS)
    read = time.monotonic()
    _, _, text = _ask(line, "GET", where, {"Cookie": cookie})
    while SHOWN not in text:
        again = AGAIN.search(text)
        if again is None or time.monotonic() - read > PATIENCE_SECONDS:
            raise ValueError("the panel does not ask again and shows no layout")
        time.sleep(int(again[2]) / 1000)
        asked = {"Cookie": cookie, "HX-Request": "true"}
        _, _, text = _ask(line, "GET", again[1].replace("&amp;", "&"), asked)
    found.from_upload = time.monotonic() - began
    found.from_pattern = time.monotonic() - read
    line.close()


def _ask(
    line: http.client.HTTPConnection,
    verb: str,
    path: str,
    headers: dict[str, str],
    body: bytes | None = None,
) -> tuple[int, str, str]:
    line.request(verb, path, body, {"Accept": "text/html", **headers})
    answer = line.getresponse()
    text = answer.read().decode()
    if answer.status >= 400:
        raise ValueError(f"{verb} {path}: {answer.status}")
    return answer.status, answer.headers.get("Location", ""), text


def _form(metal: str, file: Path) -> tuple[str, bytes]:
    edge = secrets.token_hex(16)
    parts = [
        f'--{edge}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'.encode()
        for name, value in (("metal", metal), ("copies", "1"), ("width_mm", ""), ("dpi", ""))
    ]
    parts.append(
        f'--{edge}\r\nContent-Disposition: form-data; name="file"; filename="{file.name}"\r\n'
        "Content-Type: application/octet-stream\r\n\r\n".encode()
    )
    return f"multipart/form-data; boundary={edge}", b"".join(
        [*parts, file.read_bytes(), f"\r\n--{edge}--\r\n".encode()]
    )
