from django.urls import include, path

urlpatterns = [
    path("", include("jobs.urls")),
    path("stock/", include("inventory.urls")),
    path("", include("inventory.short_urls")),
    path("", include("decor.studio.urls")),
]

handler400 = "decor.studio.views.not_understood"
handler404 = "decor.studio.views.not_found"
handler403 = "decor.studio.views.not_yours"
handler500 = "decor.studio.views.went_wrong"
