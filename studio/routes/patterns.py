"""Addresses: projects and their patterns: brought, built, corrected, handed in, answered."""

from django.urls import URLPattern, path

from studio.views.building import pages as building
from studio.views.patterns import answering, bringing, correcting, mending, project, versions
from studio.views.patterns import pages as patterns
from studio.views.patterns import waiting as waiting_pattern
from studio.views.prints import drawing_files

urlpatterns: list[URLPattern] = [
    path("briefs/<int:brief_pk>/start/", project.project_start, name="project_start"),
    path("projects/<int:pk>/", project.project_page, name="project"),
    path("projects/<int:pk>/versions/", versions.project_versions, name="project_versions"),
    path("projects/<int:project_pk>/pattern/", bringing.pattern_upload, name="pattern_upload"),
    path(
        "projects/<int:project_pk>/pattern/waiting/<slug:token>/",
        waiting_pattern.pattern_waiting,
        name="pattern_waiting",
    ),
    path(
        "projects/<int:project_pk>/pattern/waiting/<slug:token>/picture/",
        waiting_pattern.pattern_waiting_picture,
        name="pattern_waiting_picture",
    ),
    path("projects/<int:project_pk>/build/", building.pattern_build, name="pattern_build"),
    path("patterns/", answering.patterns_waiting, name="patterns_waiting"),
    path("patterns/approve/", answering.patterns_approve, name="patterns_approve"),
    path("patterns/<int:pk>/", patterns.pattern_page, name="pattern"),
    path("patterns/<int:pk>/file/", patterns.pattern_file, name="pattern_file"),
    path("patterns/<int:pk>/drawing.<slug:kind>", drawing_files.drawing_file, name="drawing_file"),
    path("patterns/<int:pk>/lines/", patterns.pattern_relabel, name="pattern_relabel"),
    path("patterns/<int:pk>/metal/", patterns.pattern_metal, name="pattern_metal"),
    path("patterns/<int:pk>/hand-in/", patterns.pattern_hand_in, name="pattern_hand_in"),
    path("patterns/<int:pk>/take-back/", patterns.pattern_take_back, name="pattern_take_back"),
    path("patterns/<int:pk>/use-again/", versions.pattern_use_again, name="pattern_use_again"),
    path("patterns/<int:pk>/review/", answering.pattern_answer, name="pattern_review"),
    path("patterns/<int:pk>/correct/", correcting.pattern_correct, name="pattern_correct"),
    path("patterns/<int:pk>/correct/change/", correcting.pattern_change, name="pattern_change"),
    path("patterns/<int:pk>/correct/undo/", correcting.pattern_undo, name="pattern_undo"),
    path("patterns/<int:pk>/paper.jpg", correcting.pattern_paper, name="pattern_paper"),
    path("patterns/<int:pk>/mend/", mending.pattern_mend, name="pattern_mend"),
]
