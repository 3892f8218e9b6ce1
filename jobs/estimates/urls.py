from django.urls import path

from jobs.estimates import panel_views, views, ways_views

urlpatterns = [
    path("<int:event>/estimate/", views.event_estimate, name="event-estimate"),
    path("<int:event>/estimate/start/", views.estimate_start, name="estimate-start"),
    path("<int:event>/estimate/state/", views.estimate_state, name="estimate-state"),
    path("<int:event>/pieces/<int:piece>/figures/", panel_views.panel_figures, name="panel-figures"),
    path("<int:event>/pieces/<int:piece>/ways/", ways_views.panel_ways, name="panel-ways"),
]
