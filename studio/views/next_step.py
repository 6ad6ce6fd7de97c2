"""What is to be done next about a project, for its student or its teacher?"""

from __future__ import annotations

from django.urls import reverse

from classroom.permissions import Visit
from studio.models import Pattern, Project
from studio.steps.start_project import why_shut

Stage = Project.Stage


def next_for(
    request: Visit, project: Project, pattern: Pattern | None, urls: dict[str, str]
) -> dict[str, str] | None:
    """What to do next, for whoever is looking; None where somebody else's turn it is."""
    if request.user.is_teacher:
        return _next_for_teacher(project, pattern, urls)
    upload = reverse("pattern_upload", args=[project.pk])
    build = reverse("pattern_build", args=[project.pk])
    if project.stage in (Stage.DRAWING, Stage.RETURNED) and why_shut(project):
        return None
    if project.stage == Stage.RETURNED and pattern is not None:
        return {
            "title": "Mend your pattern",
            "text": "Your teacher returned it with a remark. Read it, mend the drawing and "
            "upload it again."
            if pattern.recipe is None
            else "Your teacher returned it with a remark. Read it, then change the shapes.",
            "url": upload if pattern.recipe is None else build,
            "label": "Upload the mended pattern" if pattern.recipe is None else "Change the shapes",
        }
    if project.stage == Stage.DRAWING and pattern is None:
        return {
            "title": "Bring your pattern",
            "text": "Draw the outline of your piece and its windows and upload it, on paper or as "
            "a file; or build it from shapes here.",
            "url": upload,
            "label": "Upload a pattern",
        }
    if project.stage == Stage.DRAWING and pattern is not None:
        ready = pattern.may_be_handed_in
        return {
            "title": "Hand your pattern in" if ready else "Mend the stops",
            "text": "It has no stop. Look at it once more, then hand it in."
            if ready
            else "Look at the numbered places, then mend the drawing.",
            "url": urls.get("Pattern", ""),
            "label": "To the pattern",
        }
    if project.stage in (Stage.PATTERN_APPROVED, Stage.PLANNED) and urls.get("Cut plan"):
        reserved = project.stage == Stage.PLANNED
        return {
            "title": "See where your piece lies",
            "text": "Your metal is reserved. Your teacher hands it out."
            if reserved
            else "Your pattern is approved and goes onto the metal. The plan is approved next.",
            "url": urls["Cut plan"],
            "label": "To the cut plan",
        }
    if project.stage == Stage.AT_BENCH and urls.get("Bench"):
        return {
            "title": "Go on at the bench",
            "text": "Your metal is handed out. The steps are waiting for you.",
            "url": urls["Bench"],
            "label": "To the bench steps",
        }
    return None


def _next_for_teacher(
    project: Project, pattern: Pattern | None, urls: dict[str, str]
) -> dict[str, str] | None:
    if project.stage == Stage.HANDED_IN and pattern is not None:
        return {
            "title": "Look at the pattern",
            "text": f"{project.student.display_name} is waiting for your answer.",
            "url": reverse("pattern_review", args=[pattern.pk]),
            "label": "Review the pattern",
        }
    if project.stage in (Stage.PATTERN_APPROVED, Stage.PLANNED) and urls.get("Cut plan"):
        approved = project.stage == Stage.PLANNED
        return {
            "title": "Hand out the metal" if approved else "Look at the cut plan",
            "text": "The metal is reserved and the money set aside."
            if approved
            else "Placing has begun or is done; approve the plan to reserve the metal.",
            "url": urls["Cut plan"],
            "label": "To the cut plan",
        }
    if project.stage == Stage.PATTERN_APPROVED:
        return {
            "title": "Place it on metal",
            "text": "The pattern is approved, and no cut plan holds it yet.",
            "url": reverse("plan_new", args=[project.brief.course_id]),
            "label": "Make a cut plan",
        }
    if project.stage == Stage.MADE and urls.get("Cut plan"):
        return {
            "title": "Take the metal back",
            "text": "The piece is made. Offcuts go to the rack, scrap is weighed.",
            "url": urls["Cut plan"],
            "label": "To the cut plan",
        }
    return None
