"""The page of the interface's documentation: everything comes from this node, and no script stands in the page."""

from __future__ import annotations

from importlib.resources import files
from typing import Final, Literal

from fastapi import APIRouter
from starlette.responses import FileResponse, HTMLResponse, Response

ASSETS: Final = "/assets/documentation"
PAGE: Final = f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>reprocess: interface for integrators</title>
<link rel="stylesheet" href="{ASSETS}/swagger-ui.css">
<link rel="icon" href="{ASSETS}/favicon-32x32.png">
</head>
<body>
<div id="swagger-ui"></div>
<script src="{ASSETS}/swagger-ui-bundle.js"></script>
<script src="{ASSETS}/start.js"></script>
</body>
</html>
"""
START: Final = """SwaggerUIBundle({
  url: "/openapi.json",
  dom_id: "#swagger-ui",
  deepLinking: true,
  layout: "BaseLayout",
  presets: [SwaggerUIBundle.presets.apis],
  validatorUrl: null,
});
"""
DAY: Final = "public, max-age=86400"


def routes() -> APIRouter:
    """Returns the page and the files that it loads."""
    router = APIRouter(include_in_schema=False)
    resources = files("fastapi_swagger.resources")

    @router.get("/docs")
    def documentation() -> HTMLResponse:
        return HTMLResponse(PAGE)

    @router.get(f"{ASSETS}/start.js")
    def start() -> Response:
        return Response(START, media_type="text/javascript")

    @router.get(f"{ASSETS}/{{name}}")
    def asset(name: Literal["swagger-ui-bundle.js", "swagger-ui.css", "favicon-32x32.png"]) -> FileResponse:
        return FileResponse(str(resources.joinpath(name)), headers={"Cache-Control": DAY})

    return router
