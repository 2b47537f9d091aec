from __future__ import annotations

from django.urls import path
from django.views.generic import TemplateView

from fleet import views
from fleet.how_pages import how_page

urlpatterns = [
    path("sign-in/", views.SignIn.as_view(), name="sign-in"),
    path("sign-out/", views.SignOut.as_view(), name="sign-out"),
    path("set-up/login/", views.set_up_sign_in),
    path("units-shown/", views.choose_units, name="choose-units"),
    path("how/", TemplateView.as_view(template_name="fleet/how_site.html"), name="how"),
    how_page("running", "fleet/how_running.html"),
]
