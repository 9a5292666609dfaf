"""A page as it is read."""

from __future__ import annotations

from django.test import Client


def page(client: Client, address: str = "/") -> str:
    """What stands on it, with every run of white space as one blank; it must be there."""
    answer = client.get(address)
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())
