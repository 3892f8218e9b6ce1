from django.urls import path

from jobs.events import views

urlpatterns = [
    path("venues/", views.venues, name="venues"),
    path("venues/new/", views.venue_new, name="venue-new"),
    path("venues/<int:venue>/", views.venue, name="venue"),
    path("venues/<int:venue>/change/", views.venue_edit, name="venue-change"),
]
