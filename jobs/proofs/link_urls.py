from django.urls import path

from jobs.proofs import client_views

urlpatterns = [
    path("p/<str:token>/", client_views.proof, name="proof"),
    path("p/<str:token>/approve/", client_views.approve, name="proof-approve"),
    path("p/<str:token>/change/", client_views.change, name="proof-change"),
    path("p/<str:token>/decline/", client_views.decline, name="proof-decline"),
    path("p/<str:token>/picture/<int:file>/", client_views.proof_picture, name="proof-picture"),
    path("p/<str:token>/version/<int:proof>/", client_views.proof_version, name="proof-version"),
]
