from django.urls import path

from inventory import lot_views, views

app_name = "inventory"
urlpatterns = [
    path("", views.stock, name="stock"),
    path("new/", views.item_new, name="item-new"),
    path("new/<str:kind>/", views.item_add, name="item-add"),
    path("<int:item>/", views.item, name="item"),
    path("<int:item>/change/", views.item_change, name="item-change"),
    path("<int:item>/stop/", views.item_stop, name="item-stop"),
    path("<int:item>/use-again/", views.item_use_again, name="item-use-again"),
    path("<int:item>/lots/new/", lot_views.lot_new, name="lot-new"),
    path("lots/<int:lot>/", lot_views.lot_change, name="lot-change"),
    path("lots/<int:lot>/received/", lot_views.lot_receive, name="lot-receive"),
    path("lots/<int:lot>/take-away/", lot_views.lot_remove, name="lot-remove"),
]
