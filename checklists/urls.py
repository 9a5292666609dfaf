"""The addresses of this app's pages; each subject brings its own."""

from django.urls import URLPattern, URLResolver

urlpatterns: list[URLPattern | URLResolver] = []
