"""The addresses of the drop page: small answers about one session, and its page."""

from __future__ import annotations

import json
import secrets
from collections.abc import Callable
from importlib.resources import files
from typing import Any

from starlette.applications import Starlette
from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from trackspread.errors import BadOption, TrackspreadError
from trackspread.report.style import css_variables
from trackspread.web.session import Session, SessionRefused
from trackspread.web.store import DropRefused

_LONGEST_BODY = 1_000_000  # bytes of a request
_TYPES = {"js": "text/javascript", "css": "text/css"}
_POLICY = (
    "default-src 'none'; script-src 'nonce-{nonce}'; style-src 'nonce-{nonce}'; img-src 'self' data:; "
    "connect-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'; "
    "require-trusted-types-for 'script'; trusted-types 'none'"
)


def make_app(session: Session, end: Callable[[], None]) -> Starlette:
    """Return the application that serves a session.

    Parameters
    ----------
    session : Session
    end : callable
        Called when the page ends the session.

    Returns
    -------
    Starlette
        Refusals are JSON: ``error``, and the ``field`` that is wrong.
    """
    pages = _Pages(session, end)
    return Starlette(
        routes=[
            Route("/", pages.page),
            Route("/page/{name}", pages.part),
            Route("/state", pages.state),
            Route("/files", pages.put_file, methods=["PUT"]),
            Route("/files", pages.delete_files, methods=["DELETE"]),
            Route("/read", pages.read, methods=["POST"]),
            Route("/table", pages.table),
            Route("/correction", pages.correct, methods=["POST"]),
            Route("/undo", pages.undo, methods=["POST"]),
            Route("/zone", pages.choose_zone, methods=["POST"]),
            Route("/run", pages.run, methods=["POST"]),
            Route("/share", pages.share, methods=["POST"]),
            Route("/cancel", pages.cancel, methods=["POST"]),
            Route("/result", pages.result),
            Route("/result/{name:path}", pages.result_file),
            Route("/end", pages.end, methods=["POST"]),
        ],
        exception_handlers={TrackspreadError: _refused, ClientDisconnect: _gone},
    )


async def _refused(request: Request, error: Exception) -> Response:
    status = getattr(error, "status", 400)
    field, text = (error.option, error.text) if isinstance(error, BadOption) else ("", str(error))
    headers = {"Connection": "close"} if isinstance(error, DropRefused) else {}
    return JSONResponse({"error": text, "field": field}, status, headers)


async def _gone(request: Request, error: Exception) -> Response:
    return Response(status_code=400)


class _Pages:
    """One method an address; what they share is the session."""

    def __init__(self, session: Session, end: Callable[[], None]) -> None:
        self._session = session
        self._end = end
        self._folder = files("trackspread.web") / "page"
        self._parts = {part.name for part in self._folder.iterdir() if part.name.endswith((".js", ".css"))}

    async def page(self, request: Request) -> Response:
        nonce = secrets.token_urlsafe(16)
        text = (self._folder / "drop.html").read_text("utf-8").replace("@NONCE@", nonce)
        policy = _POLICY.format(nonce=nonce)
        return Response(text, media_type="text/html", headers={"Content-Security-Policy": policy})

    async def part(self, request: Request) -> Response:
        name = request.path_params["name"]
        if name not in self._parts:
            return Response(status_code=404)
        text = (self._folder / name).read_text("utf-8")
        ending = name.rpartition(".")[2]
        return Response(css_variables() + text if ending == "css" else text, media_type=_TYPES[ending])

    async def state(self, request: Request) -> Response:
        return JSONResponse(self._session.state())

    async def put_file(self, request: Request) -> Response:
        size = request.headers.get("content-length", "0")
        name = request.query_params.get("name", "")
        dropped = await self._session.receive(name, int(size) if size.isdecimal() else 0, request.stream())
        return JSONResponse({"name": dropped.name, "size": dropped.size}, 201)

    async def delete_files(self, request: Request) -> Response:
        self._session.remove(request.query_params.get("name"))
        return Response(status_code=204)

    async def read(self, request: Request) -> Response:
        self._session.read()
        return Response(status_code=204)

    async def table(self, request: Request) -> Response:
        return JSONResponse(self._session.table())

    async def correct(self, request: Request) -> Response:
        wanted = await _body(request)
        keys, cell = wanted.get("keys"), [wanted.get("column"), wanted.get("value")]
        if not isinstance(keys, list) or not all(isinstance(text, str) for text in (*keys, *cell)):
            raise SessionRefused("A correction names traces, a column and a value.")
        self._session.correct(keys, str(cell[0]), str(cell[1]))
        return JSONResponse(self._session.table())

    async def undo(self, request: Request) -> Response:
        self._session.undo()
        return JSONResponse(self._session.table())

    async def choose_zone(self, request: Request) -> Response:
        zone = (await _body(request)).get("zone")
        if not isinstance(zone, str):
            raise SessionRefused("A zone has a name.")
        self._session.choose_zone(zone)
        return Response(status_code=204)

    async def run(self, request: Request) -> Response:
        self._session.run(await _body(request))
        return Response(status_code=204)

    async def share(self, request: Request) -> Response:
        self._session.share()
        return Response(status_code=204)

    async def cancel(self, request: Request) -> Response:
        self._session.cancel()
        return Response(status_code=204)

    async def result(self, request: Request) -> Response:
        return JSONResponse(self._session.result())

    async def result_file(self, request: Request) -> Response:
        found = self._session.result_file(request.path_params["name"], save="save" in request.query_params)
        return found or Response(status_code=404)

    async def end(self, request: Request) -> Response:
        self._end()
        return Response(status_code=204)


async def _body(request: Request) -> dict[str, Any]:
    """Return the JSON object that was sent; its size is held while it streams in."""
    text = b""
    async for chunk in request.stream():
        text += chunk
        if len(text) > _LONGEST_BODY:
            raise DropRefused("This request is too long.")
    try:
        value = json.loads(text)
    except (ValueError, RecursionError):
        value = None
    if not isinstance(value, dict):
        raise SessionRefused("A JSON object is needed.")
    return value
