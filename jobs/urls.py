"""Each folder names its own addresses; this file only gathers them."""

from django.urls import include, path

app_name = "jobs"
urlpatterns = [
    path("", include("jobs.desk.urls")),
    path("clients/", include("jobs.clients.urls")),
    path("events/", include("jobs.events.urls")),
    path("events/", include("jobs.designs.urls")),
    path("events/", include("jobs.designs.book_urls")),
    path("events/", include("jobs.designs.table.urls")),
    path("events/", include("jobs.estimates.urls")),
    path("events/", include("jobs.proofs.urls")),
    path("", include("jobs.proofs.link_urls")),
    path("library/", include("jobs.designs.kept.urls")),
    path("crew/", include("jobs.crew.urls")),
    path("day/", include("jobs.day.urls")),
]
