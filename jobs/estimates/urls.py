from django.urls import path

from jobs.estimates import views

urlpatterns = [
    path("<int:event>/estimate/", views.event_estimate, name="event-estimate"),
    path("<int:event>/estimate/start/", views.estimate_start, name="estimate-start"),
    path("<int:event>/estimate/state/", views.estimate_state, name="estimate-state"),
]
