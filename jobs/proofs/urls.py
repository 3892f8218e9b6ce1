from django.urls import path

from jobs.proofs import views

urlpatterns = [
    path("<int:event>/proof/", views.event_proof, name="event-proof"),
    path("<int:event>/proof/new/", views.proof_new, name="proof-new"),
    path("<int:event>/proof/new/picture/<int:piece>/", views.draft_picture, name="proof-draft-picture"),
    path("<int:event>/proof/link/", views.link_new, name="proof-link-new"),
    path("<int:event>/proof/link/end/", views.link_end, name="proof-link-end"),
    path("<int:event>/proof/picture/<int:file>/", views.event_proof_picture, name="event-proof-picture"),
    path("<int:event>/proof/<int:proof>/", views.event_proof_version, name="event-proof-version"),
]
