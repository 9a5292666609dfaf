"""The address at which a language is chosen."""

from django.urls import URLPattern, path

from clinic.language import views

urlpatterns: list[URLPattern] = [path("language/", views.language_page, name="language")]
