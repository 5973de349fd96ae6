from django.urls import path

from server.web import about, views

app_name = "web"

urlpatterns = [
    path("", views.home, name="home"),
    path("notices/", about.notices, name="notices"),
    path("about-data/", about.data, name="about-data"),
    path("unit/", views.choose_unit, name="unit"),
    path("pairs/", views.pairs, name="pairs"),
    path("log-sheet/", views.log_sheet, name="log-sheet"),
    path("groups/<slug:slug>/", views.group, name="group"),
    path("groups/<slug:slug>/editions/<int:number>/", views.edition, name="edition"),
    path("groups/<slug:slug>/editions/<int:number>/sites/<str:site>/", views.site, name="site"),
    path("groups/<slug:slug>/editions/<int:number>/charts/<slug:chart>.svg", views.chart, name="chart"),
]
