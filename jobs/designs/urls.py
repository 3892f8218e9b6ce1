from django.urls import path

from jobs.designs import views
from jobs.designs.editor import views as editor
from jobs.designs.kept import views as kept
from jobs.designs.out import views as out
from jobs.designs.paper import views as paper
from jobs.designs.pictures import colours_views, drawn_views, frame_views
from jobs.designs.sheets import views as sheets

urlpatterns = [
    path("<int:event>/pieces/new/", views.piece_add, name="piece-add"),
    path("<int:event>/pieces/<int:piece>/", views.piece, name="piece"),
    path("<int:event>/pieces/<int:piece>/change/", views.piece_edit, name="piece-edit"),
    path("<int:event>/pieces/<int:piece>/measures/", views.piece_measures, name="piece-measures"),
    path("<int:event>/pieces/<int:piece>/measures/colours/", views.piece_colours, name="piece-colours"),
    path("<int:event>/pieces/<int:piece>/remove/", views.piece_remove, name="piece-remove"),
    path("<int:event>/pieces/<int:piece>/sheets/", sheets.panel_sheets, name="panel-sheets"),
    path("<int:event>/pieces/<int:piece>/chart/", editor.chart, name="chart"),
    path("<int:event>/pieces/<int:piece>/chart/paint/", editor.chart_paint, name="chart-paint"),
    path("<int:event>/pieces/<int:piece>/chart/cells/", editor.chart_cells, name="chart-cells"),
    path("<int:event>/pieces/<int:piece>/chart/rows/", editor.chart_rows, name="chart-rows"),
    path("<int:event>/pieces/<int:piece>/chart/source/", editor.chart_source, name="chart-source"),
    path("<int:event>/pieces/<int:piece>/frame/", frame_views.frame, name="panel-frame"),
    path("<int:event>/pieces/<int:piece>/frame/look/", frame_views.frame_look, name="panel-frame-look"),
    path("<int:event>/pieces/<int:piece>/frame/picture/", frame_views.frame_picture, name="panel-frame-picture"),
    path("<int:event>/pieces/<int:piece>/colours/", colours_views.colours, name="panel-colours"),
    path("<int:event>/pieces/<int:piece>/colours/look/", colours_views.colours_look, name="panel-colours-look"),
    path("<int:event>/pieces/<int:piece>/colours/buy/", colours_views.colours_buy, name="panel-colours-buy"),
    path("<int:event>/pieces/<int:piece>/words/", drawn_views.words, name="panel-words"),
    path("<int:event>/pieces/<int:piece>/words/look/", drawn_views.words_look, name="panel-words-look"),
    path("<int:event>/pieces/<int:piece>/pattern/", drawn_views.pattern, name="panel-pattern"),
    path("<int:event>/pieces/<int:piece>/pattern/look/", drawn_views.pattern_look, name="panel-pattern-look"),
    path("<int:event>/pieces/<int:piece>/earlier/", colours_views.chart_put_back, name="chart-put-back"),
    path("<int:event>/pieces/<int:piece>/paper/", paper.paper, name="panel-paper"),
    path("<int:event>/pieces/<int:piece>/paper/<int:paper>/", paper.paper_read, name="panel-paper-read"),
    path("<int:event>/pieces/<int:piece>/paper/<int:paper>/file/", paper.paper_file, name="panel-paper-file"),
    path(
        "<int:event>/pieces/<int:piece>/paper/<int:paper>/page/<int:number>/",
        paper.paper_crops,
        name="panel-paper-crops",
    ),
    path("<int:event>/pieces/<int:piece>/paper/<int:paper>/answer/", paper.paper_answer, name="panel-paper-answer"),
    path("<int:event>/pieces/<int:piece>/paper/<int:paper>/take/", paper.paper_take, name="panel-paper-take"),
    path("<int:event>/pieces/<int:piece>/pictures/", out.pictures, name="panel-pictures"),
    path("<int:event>/pieces/<int:piece>/pictures/panel.<slug:kind>", out.picture, name="panel-picture"),
    path("<int:event>/pieces/<int:piece>/pictures/place/", out.venue_picture, name="panel-venue"),
    path("<int:event>/pieces/<int:piece>/pictures/place/image/", out.venue_image, name="panel-venue-image"),
    path("<int:event>/pieces/<int:piece>/keep/", kept.panel_keep, name="panel-keep"),
    path("<int:event>/pieces/<int:piece>/library/", kept.kept_panels, name="panel-library"),
    path("<int:event>/pieces/<int:piece>/library/<int:kept>/", kept.kept_use, name="kept-use"),
]
