from django.urls import path

from jobs.crew import event_views, views

urlpatterns = [
    path("", views.crew, name="crew"),
    path("add/", views.member_add, name="member-add"),
    path("<int:member>/", views.member, name="member"),
    path("<int:member>/change/", views.member_change, name="member-change"),
    path("<int:member>/away/", views.absence_add, name="absence-add"),
    path("away/<int:absence>/remove/", views.absence_remove, name="absence-remove"),
    path("event/<int:event>/", event_views.event_crew, name="event-crew"),
    path("event/<int:event>/add/", event_views.shift_add, name="shift-add"),
    path("event/<int:event>/check/", event_views.shift_check, name="shift-check"),
    path("shift/<int:shift>/", event_views.shift, name="shift"),
    path("shift/<int:shift>/remove/", event_views.shift_remove, name="shift-remove"),
]
