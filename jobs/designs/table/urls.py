from django.urls import path

from jobs.designs.table import views

urlpatterns = [
    path("<int:event>/pieces/<int:piece>/table/", views.panel_table, name="panel-table"),
    path("<int:event>/pieces/<int:piece>/table/<int:number>/", views.panel_table_sheet, name="panel-table-sheet"),
    path("<int:event>/pieces/<int:piece>/table/<int:number>/here/", views.panel_table_here, name="panel-table-here"),
    path("<int:event>/pieces/<int:piece>/table/<int:number>/tick/", views.panel_table_tick, name="panel-table-tick"),
]
