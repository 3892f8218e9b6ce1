from django.urls import path

from inventory import matter_views
from inventory.orders import buy_views, item_views, views

urlpatterns = [
    path("needs/", matter_views.what_needs_somebody, name="matters"),
    path("buy/", buy_views.buy, name="buy"),
    path("<int:item>/order/", item_views.item_order, name="item-order"),
    path("orders/", views.orders, name="orders"),
    path("orders/<int:order>/", views.order, name="order"),
    path("orders/<int:order>/change/", views.order_change, name="order-change"),
    path("orders/<int:order>/send/", views.order_send, name="order-send"),
    path("orders/<int:order>/letter/", views.order_mail, name="order-mail"),
    path("orders/<int:order>/another-day/", views.order_due, name="order-due"),
    path("orders/<int:order>/cancel/", views.order_cancel, name="order-cancel"),
    path("orders/<int:order>/received/", views.order_receive, name="order-receive"),
    path("orders/<int:order>/order.pdf", views.order_pdf, name="order-pdf"),
    path("orders/<int:order>/order.csv", views.order_csv, name="order-csv"),
]
