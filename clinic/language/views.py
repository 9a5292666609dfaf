"""The page on which anybody chooses a language: signed in for themselves, before that for the browser."""

from __future__ import annotations

from django import forms
from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import translation
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from clinic.language import own, tags
from clinic.web.entrance import next_of
from clinic.web.forms import signed_in


class LanguageForm(forms.Form):
    """One of the languages that the pages are in."""

    language = forms.ChoiceField(label=gettext_lazy("Language"), choices=tags.choices, widget=forms.RadioSelect)


@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
def language_page(request: HttpRequest) -> HttpResponse:
    """Choose the language of the pages, and go on where one was."""
    form = LanguageForm(request.POST or None, initial={"language": tags.present()})
    wanted = next_of(request)
    if request.method == "POST" and form.is_valid():
        return _chosen(request, form.cleaned_data["language"], wanted)
    page = {"form": form, "next": wanted}
    return render(request, "account/language.html", page, status=422 if request.method == "POST" else 200)


def _chosen(request: HttpRequest, language: str, wanted: str) -> HttpResponse:
    if request.user.is_authenticated:
        own.choose_language(actor=signed_in(request), language=language)
        with translation.override(language):
            messages.success(request, _("The pages are in English from now on."))
    response = redirect(wanted or "language" if request.user.is_authenticated else wanted or "sign_in")
    secure = settings.LANGUAGE_COOKIE_SECURE
    response.set_cookie(
        settings.LANGUAGE_COOKIE_NAME,
        language,
        max_age=settings.LANGUAGE_COOKIE_AGE,
        httponly=True,
        samesite="Lax",
        secure=secure,
    )
    return response
