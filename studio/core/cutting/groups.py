"""A project's group in a job, such as "project-7"."""

from __future__ import annotations


def group_of(project_pk: int) -> str:
    return f"project-{project_pk}"


def project_of(group: str | None) -> int:
    """The project's pk in a group such as "project-7"."""
    return int((group or "").removeprefix("project-"))
