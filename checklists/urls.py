"""The addresses of this app's pages; each subject brings its own."""

from django.urls import URLPattern, URLResolver, include, path

urlpatterns: list[URLPattern | URLResolver] = [
    path("", include("checklists.today.urls")),
    path("", include("checklists.person.urls")),
    path("", include("checklists.paper.urls")),
    path("", include("checklists.alerts.urls")),
    path("", include("checklists.aside.urls")),
    path("", include("checklists.judged.urls")),
    path("", include("checklists.sealed.urls")),
    path("", include("checklists.keeping.urls")),
    path("", include("checklists.floor.urls")),
    path("", include("checklists.signoff.urls")),
    path("", include("checklists.proof.urls")),
    path("", include("checklists.episode.urls")),
    path("", include("checklists.lead.urls")),
    path("", include("checklists.leaving.urls")),
    path("", include("checklists.bench.urls")),
    path("", include("checklists.adoption.urls")),
]
