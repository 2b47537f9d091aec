from __future__ import annotations

from django.contrib.auth.decorators import login_not_required
from django.templatetags.static import static
from django.urls import include, path
from django.views.generic import RedirectView

handler400 = "fleet.views.unreadable"
handler403 = "fleet.views.forbidden"
handler404 = "fleet.views.not_found"
handler500 = "fleet.unavailable.broken"

urlpatterns = [
    path("api/v1/", include("inspections.api.addresses")),
    path("", include("ratings.urls")),
    path("", include("inspections.urls")),
    path("", include("fleet.urls")),
    # Pages name their icon; browsers ask for this one on those that are not ours to write.
    path(
        "favicon.ico",
        login_not_required(RedirectView.as_view(url=static("fleet/icon.svg"))),
    ),
]
