from django.urls import path

from jobs.designs import chart_views, views

urlpatterns = [
    path("<int:event>/pieces/new/", views.piece_add, name="piece-add"),
    path("<int:event>/pieces/<int:piece>/", views.piece, name="piece"),
    path("<int:event>/pieces/<int:piece>/change/", views.piece_edit, name="piece-edit"),
    path("<int:event>/pieces/<int:piece>/measures/", views.piece_measures, name="piece-measures"),
    path("<int:event>/pieces/<int:piece>/measures/colours/", views.piece_colours, name="piece-colours"),
    path("<int:event>/pieces/<int:piece>/remove/", views.piece_remove, name="piece-remove"),
    path("<int:event>/pieces/<int:piece>/chart/", chart_views.chart, name="chart"),
    path("<int:event>/pieces/<int:piece>/chart/paint/", chart_views.chart_paint, name="chart-paint"),
]
