"""Headers that keep people's pages out of caches, apart from other windows, and unneeded browser powers off."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

# What no page of ours asks for. Our own pages alone ask for a passkey, and for a screen that stays on (the Floor).
_OFF = (
    *("accelerometer", "autoplay", "bluetooth", "browsing-topics", "camera", "display-capture", "encrypted-media"),
    *("fullscreen", "gamepad", "geolocation", "gyroscope", "hid", "idle-detection", "local-fonts", "magnetometer"),
    *("microphone", "midi", "payment", "picture-in-picture", "serial", "sync-xhr", "usb"),
    *("web-share", "xr-spatial-tracking"),
)
_OURS = ("publickey-credentials-create", "publickey-credentials-get", "screen-wake-lock")
PERMISSIONS = ", ".join([*(f"{power}=()" for power in _OFF), *(f"{power}=(self)" for power in _OURS)])


class PrivacyHeaders:
    """Nothing that was made for one person is stored by a browser or anything on the way, unless its view says so."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Let the request through, and see to the answer."""
        response = self._get_response(request)
        # an answer with an ETag is meant to be kept by its reader and asked about again
        response.headers.setdefault("Cache-Control", "private, no-cache" if response.has_header("ETag") else "no-store")
        response.headers.setdefault("Permissions-Policy", PERMISSIONS)
        response.headers.setdefault("X-Frame-Options", "DENY")  # for browsers that know no frame-ancestors
        response.headers.setdefault("Cross-Origin-Resource-Policy", "same-origin")
        return response
