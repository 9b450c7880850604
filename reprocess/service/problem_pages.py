"""The page of each sort of problem: what its `type` leads to, for people and for programs."""

from __future__ import annotations

from html import escape
from typing import Annotated

from fastapi import APIRouter, Header, Path
from fastapi.responses import HTMLResponse
from pydantic import BaseModel, Field
from starlette.responses import JSONResponse, Response

from reprocess.service.problems import KINDS, Kind, ProblemError, responses
from reprocess.service.reading import StrictRoute


class ProblemKindOut(BaseModel):
    """Is one sort of problem."""

    type: str = Field(examples=["/v1/problems/refused"])
    status: int
    title: str
    remedy: str = Field(description="What whoever asked does about it.")


class ProblemKindsOut(BaseModel):
    """Is every sort of problem."""

    problems: list[ProblemKindOut]


def _told(name: str, kind: Kind) -> ProblemKindOut:
    return ProblemKindOut(type=f"/v1/problems/{name}", status=kind.status, title=kind.title, remedy=kind.remedy)


def _page(name: str, kind: Kind) -> str:
    title = escape(kind.title)
    return (
        f'<!doctype html>\n<html lang="en">\n<head><meta charset="utf-8"><title>{title}</title></head>\n<body>\n'
        f"<h1>{title}</h1>\n<p>{escape(kind.remedy)}</p>\n"
        f"<p><code>/v1/problems/{escape(name)}</code>, HTTP status {kind.status}</p>\n</body>\n</html>\n"
    )


def routes() -> APIRouter:
    """Returns the routes of the problems' pages."""
    router = APIRouter(route_class=StrictRoute, tags=["problems"])

    @router.get(
        "/problems", operation_id="list-problems", summary="Every sort of problem", responses=responses("malformed")
    )
    async def problems() -> ProblemKindsOut:
        return ProblemKindsOut(problems=[_told(name, kind) for name, kind in KINDS.items()])

    @router.get(
        "/problems/{kind}",
        operation_id="read-problem",
        summary="One sort of problem",
        response_class=Response,
        responses={
            200: {
                "description": "JSON; a page where the browser prefers one.",
                "model": ProblemKindOut,
                "content": {"text/html": {"schema": {"type": "string"}}},
            },
            **responses("not-found", "invalid", "malformed"),
        },
    )
    async def problem_kind(
        kind: Annotated[str, Path(min_length=1, max_length=64, pattern=r"^[!-~]+$", examples=["refused"])],
        accept: Annotated[str, Header(include_in_schema=False)] = "",
    ) -> Response:
        found = KINDS.get(kind)
        if found is None:
            message = "There is no such sort of problem."
            raise ProblemError("not-found", message)
        if accept.partition(",")[0].partition(";")[0].strip() == "text/html":
            return HTMLResponse(_page(kind, found))
        return JSONResponse(_told(kind, found).model_dump())

    return router
