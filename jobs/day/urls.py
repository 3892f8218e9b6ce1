from django.urls import path

from jobs.day import views

urlpatterns = [
    path("board/", views.day_board, name="day-board"),
    path("<int:event>/", views.day_sheet, name="day-sheet"),
    path("<int:event>/build-book/<int:piece>.pdf", views.day_book, name="day-book"),
]
