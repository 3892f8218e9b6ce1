"""The addresses on labels: short, because a long one makes a fine code that dirt destroys."""

from django.urls import path

from inventory import bin_views

app_name = "label"
urlpatterns = [
    path("b/<int:bin>/", bin_views.scanned_bin, name="bin"),
    path("i/<int:item>/", bin_views.scanned_item, name="item"),
]
