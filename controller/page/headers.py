"""What every answer tells the browser: nothing from elsewhere, nothing framed, nothing kept."""

from __future__ import annotations

from starlette.types import ASGIApp, Message, Receive, Scope, Send

# Content Security Policy Level 3 (W3C). All that a page needs lies beside it; SVG has no styles.
POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; "
    "form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
)
ALWAYS = {
    b"content-security-policy": POLICY.encode(),
    b"x-content-type-options": b"nosniff",
    b"x-frame-options": b"DENY",  # for browsers before frame-ancestors
    b"referrer-policy": b"same-origin",
    b"cross-origin-opener-policy": b"same-origin",
    b"cross-origin-resource-policy": b"same-origin",
    b"permissions-policy": b"camera=(), geolocation=(), microphone=()",
}
_STRICT_TRANSPORT = b"max-age=31536000"


class Headers:
    """Around an application: every answer has them, a fault's too."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = [one for one in message["headers"] if one[0].lower() not in ALWAYS]
                headers += ALWAYS.items()
                if not scope["path"].startswith("/static/"):
                    headers.append((b"cache-control", b"no-store"))
                if scope["scheme"] == "https":
                    headers.append((b"strict-transport-security", _STRICT_TRANSPORT))
                message["headers"] = headers
            await send(message)

        await self._app(scope, receive, with_headers)
