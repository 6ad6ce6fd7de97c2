"""How a question about a picture goes to the reading process, and the answer comes back."""

from __future__ import annotations

import json
from typing import Any

import numpy as np

from studio.core.drawing import Finding

from ..errors import PatternError
from ..rough import Asked, Rough, RoughLine
from ..tracing import Round, Source

_HEAD = 8


def packed(data: bytes, kind: str, asked: Asked) -> bytes:
    head = json.dumps({"kind": kind, **asked.to_json()}).encode()
    return len(head).to_bytes(_HEAD, "big") + head + data


def unpacked(request: bytes) -> tuple[bytes, str, Asked]:
    length = int.from_bytes(request[:_HEAD], "big")
    head = json.loads(request[_HEAD : _HEAD + length])
    return request[_HEAD + length :], head["kind"], Asked.from_json(head)


def answer(rough: Rough) -> bytes:
    lines = [
        {
            "points": np.round(line.points, 6).tolist(),
            "closed": line.closed,
            "round": None
            if line.round is None
            else [line.round.x_mm, line.round.y_mm, line.round.diameter_mm],
            "element": line.element,
            "hint": line.hint,
        }
        for line in rough.lines
    ]
    findings = [finding.to_json() for finding in rough.findings]
    return json.dumps(
        {"source": rough.source.to_json(), "lines": lines, "findings": findings}
    ).encode()


def refusal(error: PatternError) -> bytes:
    return json.dumps({"refused": [error.code, error.message, error.mend]}).encode()


def understood(reply: bytes) -> Rough:
    """Raises the PatternError that the reading process met."""
    found: dict[str, Any] = json.loads(reply)
    if "refused" in found:
        raise PatternError(*found["refused"])
    return Rough(
        Source.from_json(found["source"]),
        [
            RoughLine(
                np.array(line["points"], dtype=np.float64).reshape(-1, 2),
                line["closed"],
                None if line["round"] is None else Round(*line["round"]),
                line["element"],
                "",
                line["hint"],
            )
            for line in found["lines"]
        ],
        [Finding.from_json(finding) for finding in found["findings"]],
    )
