app_name = "inventory"
urlpatterns: list = []
