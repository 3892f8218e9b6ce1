"""Each folder names its own addresses; this file only gathers them."""

from django.urls import include, path

app_name = "jobs"
urlpatterns = [
    path("", include("jobs.desk.urls")),
]
