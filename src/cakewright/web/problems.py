"""Errors as answers: a status, words a person can use, and the faults with their places."""

from __future__ import annotations

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse, JSONResponse, Response
from pydantic import BaseModel
from starlette.exceptions import HTTPException

from cakewright.errors import (
    CakewrightError,
    ConflictError,
    Fault,
    FaultsError,
    StoreError,
    UnknownNameError,
)
from cakewright.web.rendering import render

__all__ = ["FaultOut", "Problem", "add_problems", "fault_out", "status_of"]


class FaultOut(BaseModel):
    """One thing wrong: where, what was got, what is allowed, what to try."""

    where: str
    got: str
    allowed: str
    try_this: str
    line: int | None = None


class Problem(BaseModel):
    """Why a request was not done, in words."""

    error: str
    faults: list[FaultOut] = []
    places: list[str] = []
    kept: int = 0


def fault_out(fault: Fault) -> FaultOut:
    """A fault for an answer."""
    return FaultOut(
        where=fault.where,
        got=fault.got,
        allowed=fault.allowed,
        try_this=fault.try_this,
        line=fault.line,
    )


def status_of(error: CakewrightError) -> int:
    """Status of an error: not there, in the way of another edit, store down, or bad input."""
    if isinstance(error, UnknownNameError):
        return 404
    if isinstance(error, ConflictError):
        return 409
    if isinstance(error, StoreError):
        return 507 if "full" in str(error) else 503
    return 422


def _problem(error: CakewrightError) -> Problem:
    faults = error.faults if isinstance(error, FaultsError) else ()
    conflict = error if isinstance(error, ConflictError) else None
    return Problem(
        error=str(error),
        faults=[fault_out(fault) for fault in faults],
        places=list(conflict.places) if conflict else [],
        kept=conflict.kept if conflict else 0,
    )


def add_problems(app: FastAPI) -> None:
    """Let every error become an answer in words."""

    @app.exception_handler(CakewrightError)
    async def known(request: Request, error: CakewrightError) -> Response:
        answer = _answer(request, status_of(error), _problem(error))
        if answer.status_code == 503:
            # Nothing was written: the page, and whoever else asks, tries again by itself.
            answer.headers["retry-after"] = "2"
        return answer

    @app.exception_handler(RequestValidationError)
    async def wrong(request: Request, error: RequestValidationError) -> Response:
        words = "; ".join(
            f"{'.'.join(str(part) for part in each['loc'])}: {each['msg']}"
            for each in error.errors()[:5]
        )
        return _answer(request, 422, Problem(error=words))

    @app.exception_handler(HTTPException)
    async def missing(request: Request, error: HTTPException) -> Response:
        words = "there is no such page" if error.status_code == 404 else str(error.detail)
        answer = _answer(request, error.status_code, Problem(error=words))
        answer.headers.update(error.headers or {})
        return answer


def _answer(request: Request, status: int, problem: Problem) -> Response:
    wants_page = request.method == "GET" and "text/html" in request.headers.get("accept", "")
    if wants_page and not request.url.path.startswith("/api/"):
        return HTMLResponse(render("problem.html", problem=problem, status=status), status)
    return JSONResponse(problem.model_dump(), status)
