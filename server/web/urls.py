from django.urls import path

from server.web import about, accounts, own_wears, reading, security, sign_in, views, wearers
from server.web.moderating import urls as moderating

app_name = "web"

urlpatterns = [
    path("", views.home, name="home"),
    path("notices/", about.notices, name="notices"),
    path("about-data/", about.data, name="about-data"),
    path("unit/", views.choose_unit, name="unit"),
    path("pairs/", views.pairs, name="pairs"),
    path("log-sheet/", views.log_sheet, name="log-sheet"),
    path("join/", sign_in.join, name="join"),
    path("join/written-down/", sign_in.codes_written_down, name="codes-written-down"),
    path("sign-in/", sign_in.sign_in, name="sign-in"),
    path("sign-out/", sign_in.sign_out, name="sign-out"),
    path("recover/", sign_in.recover, name="recover"),
    path("account/", accounts.account, name="account"),
    path("account/agreed/", accounts.switches, name="switches"),
    path("account/agreed/<slug:scope>/", accounts.switch, name="switch"),
    path("account/wearers/", wearers.wearers, name="wearers"),
    path("account/data/", accounts.data, name="my-data"),
    path("account/data/mine.json", accounts.everything, name="everything"),
    path("account/data/readings.csv", accounts.readings, name="readings"),
    path("account/data/forget-layouts/", accounts.forget_mappings, name="forget-mappings"),
    path("account/password/", security.password, name="password"),
    path("account/recovery-codes/", security.codes, name="recovery-codes"),
    path("account/authenticator/", security.authenticator, name="authenticator"),
    path("account/authenticator/new/", security.begin_authenticator, name="begin-authenticator"),
    path("account/elsewhere/", security.sign_out_elsewhere, name="sign-out-elsewhere"),
    path("account/close/", accounts.close, name="close"),
    path("closed/", accounts.closed, name="closed"),
    path("wears/", own_wears.wears, name="wears"),
    *moderating.urlpatterns,
    path("groups/<slug:slug>/", reading.group, name="group"),
    path("groups/<slug:slug>/editions/", reading.earlier, name="earlier"),
    path("groups/<slug:slug>/editions/<int:number>/", reading.edition, name="edition"),
    path("groups/<slug:slug>/editions/<int:number>/compare/", reading.compare, name="compare"),
    path("groups/<slug:slug>/editions/<int:number>/sheet/", reading.sheet, name="sheet"),
    path("groups/<slug:slug>/editions/<int:number>/sites/<str:site>/", reading.site, name="site"),
    path("groups/<slug:slug>/editions/<int:number>/charts/<slug:chart>.svg", reading.chart, name="chart"),
]
