from django.urls import path

from jobs.desk import ask_views as ask
from jobs.desk import booking_views as book
from jobs.desk import event_views, stock_views, views

urlpatterns = [
    path("", views.today, name="today"),
    path("clients/<int:client>/", views.client, name="client"),
    path("events/", event_views.events, name="events"),
    path("events/<int:event>/", event_views.event_glance, name="event-glance"),
    path("events/<int:event>/change/", event_views.event_edit, name="event-change"),
    path("events/<int:event>/stage/", event_views.event_stage, name="event-stage"),
    path("events/<int:event>/stock/", stock_views.event_stock, name="event-stock"),
    path("events/<int:event>/hold/", stock_views.event_hold, name="event-hold"),
    path("events/<int:event>/confirm/", stock_views.event_confirm, name="event-confirm"),
    path("events/<int:event>/release/", stock_views.event_release, name="event-release"),
    path("ask/", ask.ask, name="ask"),
    path("ask/<uuid:draft>/", ask.ask_change, name="ask-change"),
    path("ask/<uuid:draft>/answer/", ask.ask_answer, name="ask-answer"),
    path("ask/<uuid:draft>/hold/", ask.ask_hold, name="ask-hold"),
    path("ask/<uuid:draft>/no/", ask.ask_no, name="ask-no"),
    path("book/", book.book, name="book"),
    path("book/<uuid:draft>/who/", book.who, name="book-who"),
    path("book/<uuid:draft>/where/", book.where, name="book-where"),
    path("book/<uuid:draft>/when/", book.when, name="book-when"),
    path("book/<uuid:draft>/what/", book.what, name="book-what"),
    path("book/<uuid:draft>/what/remove/", book.piece_remove, name="book-piece-remove"),
    path("book/<uuid:draft>/check/", book.check, name="book-check"),
    path("book/<uuid:draft>/throw-away/", book.drop, name="book-drop"),
]
