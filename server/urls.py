from django.urls import include, path

from server.core import health, metrics

urlpatterns = [
    path("health/live", health.live, name="health-live"),
    path("health/ready", health.ready, name="health-ready"),
    path("metrics", metrics.show, name="metrics"),
    path("api/v1/", include("server.api.urls")),
    path("", include("server.web.urls")),
]
handler404 = "server.web.middleware.page_not_found"
handler500 = "server.api.problems.answer_unexpected"
