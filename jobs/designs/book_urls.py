from django.urls import path

from jobs.designs import book_views as views

urlpatterns = [
    path("<int:event>/pieces/<int:piece>/build-book/", views.build_book, name="build-book"),
    path("<int:event>/pieces/<int:piece>/build-book/make/", views.build_book_make, name="build-book-make"),
    path("<int:event>/pieces/<int:piece>/build-book.pdf", views.build_book_file, name="build-book-file"),
]
