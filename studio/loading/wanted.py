"""What one measurement asks of the readers' process, as both processes know it. No Django."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from typing import Any


@dataclass(slots=True)
class Person:
    """Somebody with a session, and the pages that this person reads in turn."""

    cookie: str
    pages: list[str]


@dataclass(slots=True)
class Deed:
    """One request that makes work: a file is sent, a class print asked for, a plan wanted.

    `fields` are typed; `file` is the path of a file on this machine that goes along.
    """

    cookie: str
    path: str
    fields: dict[str, list[str]] = field(default_factory=dict)
    file: str = ""

    @property
    def is_form(self) -> bool:
        return bool(self.fields or self.file)


@dataclass(slots=True)
class School:
    """What the population left for the readers."""

    people: list[Person]
    uploads: list[Deed]
    prints: list[Deed]
    views: list[Deed]  # the same papers, as pages that a browser prints
    plans: list[Deed]

    def to_json(self) -> dict[str, Any]:
        return asdict(self)

    @staticmethod
    def from_json(data: dict[str, Any]) -> School:
        return School(
            [Person(**one) for one in data["people"]],
            *(
                [Deed(**one) for one in data[kind]]
                for kind in ("uploads", "prints", "views", "plans")
            ),
        )


@dataclass(slots=True)
class Mode:
    """How the readers read for a while.

    `rate` is requests a second of all readers together; `idle` is how many connections are kept
    open beside them; `deeds` are all sent at once after the first tenth of the time. With
    `every_page` each reader reads every page of the school once, as fast as it comes.
    """

    name: str
    readers: int
    rate: float
    seconds: float
    idle: int = 0
    deeds: list[Deed] = field(default_factory=list)
    every_page: bool = False

    @staticmethod
    def from_json(data: dict[str, Any]) -> Mode:
        return Mode(**{**data, "deeds": [Deed(**one) for one in data["deeds"]]})


@dataclass(slots=True)
class Seen:
    """What came of a mode. Times in milliseconds, from the first byte sent to the last read."""

    name: str
    times_ms: list[float] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)
    done: int = 0
    finished: int = 0  # of these, what a worker has ended well
    waited: int = 0  # deeds that were answered at once with "busy, try in a moment"
    deed_times_ms: list[float] = field(default_factory=list)
