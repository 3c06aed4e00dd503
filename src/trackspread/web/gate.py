"""Who may speak to the server: this machine's browser, in this session, from this page, and nobody else.

Other pages in the same browser can reach 127.0.0.1 too. Each request must therefore

- name this server as its host (a foreign name that resolves to 127.0.0.1, DNS rebinding, does not),
- come from this page, as far as the browser says (``Origin``, ``Sec-Fetch-Site``),
- carry the session's cookie, which is given once, against the token in the address printed at the start.

Cookies are sent to every port of a host (RFC 6265, section 8.5), and so to other servers of this machine.
Everything of a session therefore lies below a path that only it has, and the cookie is sent there alone.

Every answer says that it is not to be stored, sniffed, framed or read by other pages. Sources: RFC 6454
(origin), RFC 6265bis (SameSite), W3C Fetch Metadata, W3C Content Security Policy Level 3.
"""

from __future__ import annotations

import secrets

from starlette.datastructures import MutableHeaders
from starlette.requests import HTTPConnection
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

_HEADERS = {
    "Cache-Control": "no-store",
    "Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'; base-uri 'none'",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "same-origin",
    "X-Content-Type-Options": "nosniff",
}
_READING = ("GET", "HEAD")
_UNKNOWN = "Open the address that trackspread drop printed when it started."
_SPENT = "This address is not, or no longer, good: it opens once. Start trackspread drop anew."


class Guard:
    """ASGI middleware that lets nothing through but requests of the session.

    Parameters
    ----------
    app : ASGI application
        What is guarded.
    authority : str
        Host and port of this server, ``127.0.0.1:PORT``, the only accepted ``Host``.
    token : str
        The token in the address; it is good for one opening.

    Attributes
    ----------
    home : str
        The path below which everything of this session lies, ``/…/``.
    """

    def __init__(self, app: ASGIApp, *, authority: str, token: str) -> None:
        self.home = f"/{secrets.token_urlsafe(12)}/"
        self._app = app
        self._authority = authority
        self._token: str | None = token
        self._key = secrets.token_urlsafe(32)
        self._cookie = f"trackspread_{authority.rpartition(':')[2]}"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, or refuse it before anything behind the guard sees it."""
        if scope["type"] != "http":
            return

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        request = HTTPConnection(scope)
        answer = self._refusal(request) or self._opening(request)
        inside = {**scope, "path": scope["path"].removeprefix(self.home.rstrip("/"))}
        await (answer or self._app)(inside, receive, send_guarded)

    def _refusal(self, request: HTTPConnection) -> Response | None:
        if request.headers.getlist("host") != [self._authority]:
            return _refuse("This server answers to its own address only.")
        origins = request.headers.getlist("origin")
        if origins != [f"http://{self._authority}"] and (origins or request.scope["method"] not in _READING):
            return _refuse("This request comes from another page.")
        if request.headers.get("sec-fetch-site", "none") not in ("none", "same-origin"):
            return _refuse("This request comes from another site.")
        return None

    def _opening(self, request: HTTPConnection) -> Response | None:
        """Exchange the token for the cookie; refuse whoever has neither.

        Only GET spends the token: HEAD is safe (RFC 9110, section 9.2.1).
        """
        path = request.scope["path"]
        known = path.startswith(self.home) and _same(request.cookies.get(self._cookie, ""), self._key)
        given = request.query_params.get("token", "")
        if path != self.home or not given:
            return None if known else _refuse(_UNKNOWN)
        if not known and not (self._token and _same(given, self._token)):
            return _refuse(_SPENT)
        answer = RedirectResponse(self.home, status_code=303)
        if not known and request.scope["method"] == "GET":
            self._token = None
            answer.set_cookie(self._cookie, self._key, path=self.home, httponly=True, samesite="strict")
        return answer


def _same(given: str, secret: str) -> bool:
    return secrets.compare_digest(given.encode("utf-8", "surrogatepass"), secret.encode())


def _refuse(text: str) -> Response:
    return PlainTextResponse(text + "\n", status_code=403)
