from __future__ import annotations

from django.contrib import admin
from django.urls import include, path

urlpatterns = [
    path("", include("ratings.urls")),
    path("", include("inspections.urls")),
    path("", include("fleet.urls")),
    path("set-up/", admin.site.urls),
]
