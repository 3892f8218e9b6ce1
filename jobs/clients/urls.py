from django.urls import path

from jobs.clients import views

urlpatterns = [
    path("", views.clients, name="clients"),
    path("new/", views.client_new, name="client-new"),
    path("<int:client>/change/", views.client_edit, name="client-change"),
]
