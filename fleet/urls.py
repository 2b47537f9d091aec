from __future__ import annotations

from django.urls import path
from django.views.generic import TemplateView

from fleet import views
from fleet.how_pages import how_page
from fleet.machines import views as machines
from fleet.machines.views import CLAMP, POWER_PACK
from fleet.people import passkey_views as passkeys
from fleet.people import qualifications
from fleet.people import second_step_views as second_step
from fleet.people import token_views as tokens
from fleet.people import views as people
from fleet.setup.urls import set_up_urls
from fleet.setup.views import set_up
from fleet.setup.yard_things import HAMMER, HOUSING, YARD
from fleet.terms import TERMS

urlpatterns = [
    path("sign-in/", views.SignIn.as_view(), name="sign-in"),
    path("sign-out/", views.SignOut.as_view(), name="sign-out"),
    path("set-up/", set_up, name="set-up"),
    *(pattern for thing in (YARD, HAMMER, HOUSING) for pattern in set_up_urls(thing)),
    path("second-step/", second_step.second_step, name="second-step"),
    path("second-step/set-up/", second_step.set_up_second_step, name="set-up-second-step"),
    path(
        "second-step/recovery-codes/",
        second_step.new_recovery_codes,
        name="new-recovery-codes",
    ),
    path("passkeys/asked/", passkeys.passkey_options, name="passkey-options"),
    path("passkeys/new/", passkeys.new_passkey, name="new-passkey"),
    path("passkeys/<int:passkey_id>/take-away/", passkeys.take_away_passkey, name="end-passkey"),
    path("password/", people.own_password, name="own-password"),
    path("password/<str:key>/<str:token>/", people.password_by_link, name="password-by-link"),
    path("people/", people.people, name="people"),
    path("people/new/", people.new_person, name="new-person"),
    path("people/<int:user_id>/", people.person, name="person"),
    path(
        "people/<int:user_id>/qualifications/new/",
        qualifications.new_qualification,
        name="new-qualification",
    ),
    path(
        "qualifications/<int:qualification_id>/withdraw/",
        qualifications.withdraw,
        name="withdraw-qualification",
    ),
    path("people/<int:user_id>/change/", people.edit_person, name="change-person"),
    path("people/<int:user_id>/role/", people.role, name="person-role"),
    path("people/<int:user_id>/yards/", people.yards, name="person-yards"),
    path("people/<int:user_id>/access/", people.access, name="person-access"),
    path(
        "people/<int:user_id>/second-step/",
        people.take_second_step_away,
        name="person-second-step",
    ),
    path("people/<int:user_id>/lock/", people.lock, name="person-lock"),
    path("people/<int:user_id>/password/", people.reset_password, name="person-password"),
    path("tokens/new/", tokens.new_token, name="new-token"),
    path("tokens/<int:token_id>/withdraw/", tokens.withdraw_token, name="end-token"),
    path("units-shown/", views.choose_units, name="choose-units"),
    path("how/", TemplateView.as_view(template_name="fleet/how_site.html"), name="how"),
    path("machines/", machines.machines, name="machines"),
    *(
        pattern
        for kind, folder in ((CLAMP, "clamps"), (POWER_PACK, "power-packs"))
        for pattern in (
            path(f"{folder}/new/", machines.new_machine, {"kind": kind}, name=kind.new_page),
            path(f"{folder}/<int:machine_id>/", machines.machine, {"kind": kind}, name=kind.page),
            path(
                f"{folder}/<int:machine_id>/change/",
                machines.change,
                {"kind": kind},
                name=kind.change_page,
            ),
            path(
                f"{folder}/<int:machine_id>/hammer/",
                machines.put_on,
                {"kind": kind},
                name=kind.put_on_page,
            ),
        )
    ),
    path(
        "words/",
        TemplateView.as_view(template_name="fleet/words.html", extra_context={"terms": TERMS}),
        name="words",
    ),
    how_page("running", "fleet/how_running.html"),
]
