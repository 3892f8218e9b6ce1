from django.urls import path

from jobs.designs import book_views as views
from jobs.designs import tying_views

urlpatterns = [
    path("<int:event>/pieces/<int:piece>/pairs/", tying_views.panel_pairs, name="panel-pairs"),
    path("<int:event>/pieces/<int:piece>/strings/", tying_views.panel_strings, name="panel-strings"),
    path("<int:event>/pieces/<int:piece>/build-book/", views.build_book, name="build-book"),
    path("<int:event>/pieces/<int:piece>/build-book/make/", views.build_book_make, name="build-book-make"),
    path("<int:event>/pieces/<int:piece>/build-book/read/", views.build_book_read, name="build-book-read"),
    path(
        "<int:event>/pieces/<int:piece>/build-book/chart-<int:number>.png",
        views.build_book_chart,
        name="build-book-chart",
    ),
    path("<int:event>/pieces/<int:piece>/build-book.pdf", views.build_book_file, name="build-book-file"),
]
