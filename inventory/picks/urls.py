from django.urls import path

from inventory.picks import count_views, ledger_views, return_views, views

urlpatterns = [
    path("work/", views.work, name="store-work"),
    path("picks/<int:reservation>/", views.pick, name="pick"),
    path("picks/<int:reservation>/now/", views.pick_now, name="pick-now"),
    path("picks/<int:reservation>/tick/", views.pick_tick, name="pick-tick"),
    path("returns/<int:reservation>/", return_views.come_back, name="return"),
    path("returns/<int:reservation>/tick/", return_views.return_tick, name="return-tick"),
    path("returns/<int:reservation>/as-planned/", return_views.settle, name="settle"),
    path("count/", count_views.count, name="count"),
    path("count/<int:item>/", count_views.count_bin, name="count-bin"),
    path("count/<int:item>/tick/", count_views.count_tick, name="count-tick"),
    path("<int:item>/ledger/", ledger_views.ledger_page, name="ledger"),
    path("<int:item>/ledger/correct/", ledger_views.ledger_correct, name="ledger-correct"),
]
