from django.urls import path

from jobs.desk import views


urlpatterns = [path("", views.today, name="today")]
