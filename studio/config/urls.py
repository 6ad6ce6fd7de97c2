"""All addresses of the house. A test walks them against the permission table."""

from django.urls import include, path

handler400 = "studio.views.house.troubles.not_understood"
handler500 = "studio.views.house.troubles.page_not_made"

urlpatterns = [
    path("", include("studio.routes.today")),
    path("", include("classroom.urls")),
    path("", include("studio.routes.rack")),
    path("", include("inventory.urls")),
    path("", include("studio.routes.briefs")),
    path("", include("studio.routes.patterns")),
    path("", include("studio.routes.errands")),
    path("", include("studio.routes.practice")),
    path("", include("studio.routes.trials")),
    path("", include("studio.routes.layouts")),
    path("", include("studio.routes.plans")),
    path("", include("studio.routes.layout_answers")),
    path("", include("studio.routes.bench")),
    path("", include("studio.routes.parting")),
    path("", include("studio.routes.sharing")),
    path("", include("studio.routes.review")),
    path("print/", include("studio.routes.prints")),
]
