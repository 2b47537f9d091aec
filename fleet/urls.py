from __future__ import annotations

from django.urls import path

from fleet import views

urlpatterns = [
    path("sign-in/", views.SignIn.as_view(), name="sign-in"),
    path("sign-out/", views.SignOut.as_view(), name="sign-out"),
    path("set-up/login/", views.set_up_sign_in),
    path("units-shown/", views.choose_units, name="choose-units"),
]
