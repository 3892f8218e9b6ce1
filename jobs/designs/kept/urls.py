from django.urls import path

from jobs.designs.kept import views

urlpatterns = [
    path("", views.kept_panels, name="library"),
    path("read/", views.library_read, name="library-read"),
    path("<int:kept>/", views.kept_panel, name="kept-panel"),
    path("<int:kept>/file/", views.kept_file, name="kept-file"),
    path("<int:kept>/remove/", views.kept_remove, name="kept-remove"),
]
