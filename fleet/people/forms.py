from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth.models import User
from django.db.models import Q

from fleet.characters import check_name
from fleet.fields import RecordsField, SubmissionForm
from fleet.models import Person, Yard
from fleet.people.recording import Particulars, role_of
from fleet.people.yards import yards_bound_now
from fleet.roles import AUDITOR, DISPATCHER, MANAGER

ROLE_CHOICES = [
    (MANAGER, "Equipment manager: everything"),
    (DISPATCHER, "Dispatcher: reads everything, enters jobs and commits units"),
    (AUDITOR, "Auditor: reads everything, changes nothing"),
]
LINK, PASSWORD = "link", "password"
WAYS = [
    (LINK, "By a one-time link, shown to you next: hand it over, they choose a password"),
    (PASSWORD, "By a password you give below, to be changed at the first sign-in"),
]


def role_field() -> forms.ChoiceField:
    """Return the choice of a role, with what it may do."""
    return forms.ChoiceField(
        label="Role",
        choices=ROLE_CHOICES,
        widget=forms.RadioSelect,
        help_text="A rating needs a second equipment manager to approve it.",
        error_messages={"required": "Nothing is chosen: say what they may do here."},
    )


def reason_field() -> forms.CharField:
    """Return the field of why somebody's role or access changes."""
    return forms.CharField(
        label="Why",
        max_length=200,
        help_text="It stays on record, such as: left the company on 3 March.",
        error_messages={"required": "This is blank: say why, since it stays on record."},
    )


def password_field(label: str, help_text: str = "", **kwargs: Any) -> forms.CharField:
    """Return the field of a password that is new."""
    return forms.CharField(
        label=label,
        strip=False,
        max_length=128,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text=help_text,
        **kwargs,
    )


NEW_PASSWORD = (
    "8 characters or more, not digits alone, no word that everybody uses, and not like the name."
)


class PersonForm(SubmissionForm):
    """Name, e-mail address and yard of somebody."""

    first_name = forms.CharField(
        label="First name", max_length=150, validators=[check_name], help_text="Such as Kay."
    )
    last_name = forms.CharField(
        label="Last name",
        max_length=150,
        validators=[check_name],
        help_text="As it is to stand on papers and in the ledger.",
    )
    email = forms.EmailField(
        label="E-mail address",
        required=False,
        max_length=254,
        help_text="Where the daily letter goes. Without one, none is sent.",
    )
    yard = forms.ModelChoiceField(
        label="Yard",
        queryset=Yard.objects.filter(retired_on=None),
        required=False,
        empty_label="none",
        help_text="Where they work. It binds them to nothing: that is said on their page.",
    )

    @property
    def particulars(self) -> Particulars:
        """What was read; the form must be valid."""
        names = ("first_name", "last_name", "email", "yard")
        return Particulars(**{name: self.cleaned_data[name] for name in names})


def particulars_of(user: User) -> dict[str, Any]:
    """Return what a form of somebody shows beforehand."""
    person = Person.objects.filter(user=user).first()
    return {
        "first_name": user.first_name,
        "last_name": user.last_name,
        "email": user.email,
        "yard": person.yard_id if person else None,
    }


class NewPersonForm(PersonForm):
    """Somebody who is to sign in."""

    username = forms.CharField(
        label="Sign-in name",
        max_length=150,
        validators=[check_name],
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none"}),
        help_text="Such as kay or k.lund. It stays as it is.",
    )
    role = role_field()
    way = forms.ChoiceField(
        label="How they first sign in", choices=WAYS, widget=forms.RadioSelect, initial=LINK
    )
    password = password_field(
        "Password you give", f"{NEW_PASSWORD} Blank for a link.", required=False
    )

    field_order = ("username", "first_name", "last_name", "role", "yard", "email", "way")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        refuse_password_without_way(self, cleaned)
        return cleaned


def refuse_password_without_way(form: forms.Form, cleaned: dict[str, Any]) -> None:
    """Refuse a password that is to be given and is blank, or is given beside a link."""
    way, password = cleaned.get("way"), cleaned.get("password")
    if way == PASSWORD and not password and "password" not in form.errors:
        form.add_error("password", "This is blank: give one, or choose the one-time link.")
    if way == LINK and password:
        form.add_error("password", "A link is chosen above: leave this blank, or choose this way.")


class RoleForm(SubmissionForm):
    """Another role for somebody."""

    role = role_field()
    reason = reason_field()

    @classmethod
    def initial_of(cls, user: User) -> dict[str, Any]:
        """Return what the form shows beforehand."""
        return {"role": role_of(user)}


class AccessForm(SubmissionForm):
    """Why somebody may sign in no more, or again."""

    reason = reason_field()


class YardsForm(SubmissionForm):
    """In which yards somebody acts."""

    yards = RecordsField(
        label="Yards they are bound to",
        queryset=Yard.objects.filter(retired_on=None),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="None ticked: they act in every yard.",
    )
    reason = reason_field()

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        bound = [yard.pk for yard in yards_bound_now(user)]
        super().__init__(*args, **{"initial": {"yards": bound}} | kwargs)
        # One that was taken out of use meanwhile is still theirs, until it is lifted.
        in_use = Yard.objects.filter(Q(retired_on=None) | Q(pk__in=bound))
        self.fields["yards"].queryset = in_use  # type: ignore[attr-defined]  # of its kind
        self.fields["reason"].help_text = "It stays on record, such as: works at the pier alone."


class ResetForm(SubmissionForm):
    """How somebody whose password is lost signs in again."""

    way = forms.ChoiceField(
        label="How they sign in again", choices=WAYS, widget=forms.RadioSelect, initial=LINK
    )
    password = password_field(
        "Password you give", f"{NEW_PASSWORD} Blank for a link.", required=False
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        refuse_password_without_way(self, cleaned)
        return cleaned


class ChoosePasswordForm(forms.Form):
    """A password somebody chooses for themselves."""

    password = password_field("New password", NEW_PASSWORD)
    again = password_field("New password again", "The same once more.")

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        new, again = cleaned.get("password"), cleaned.get("again")
        if new and again and new != again:
            self.add_error("again", "This is not the same as above: type both again.")
        return cleaned


class PasswordOfNowForm(forms.Form):
    """The password somebody has, which shows that it is they."""

    old = forms.CharField(
        label="Current password",
        strip=False,
        max_length=128,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        help_text="The one you sign in with.",
    )

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.user = user

    def clean_old(self) -> str:
        old: str = self.cleaned_data["old"]
        if not self.user.check_password(old):
            raise forms.ValidationError("This is not your password: type it again.")
        return old


class OwnPasswordForm(PasswordOfNowForm, ChoosePasswordForm):
    """Somebody's own new password, beside the one of before."""

    field_order = ("old", "password", "again")
