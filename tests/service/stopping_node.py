"""A node in a process of its own that serves a department with three more routes, to see how it stops.

    python -m tests.service.stopping_node DATABASE SECONDS

It prints its address; what begins prints its name.
"""

import asyncio
import sys
from collections.abc import AsyncIterator
from pathlib import Path

from starlette.responses import StreamingResponse

from reprocess.department import open_department
from reprocess.service import logs, serving
from reprocess.service.app import create_app
from reprocess.service.serving import Listening
from reprocess.settings import ServiceSettings, Settings


def say(word: str) -> None:
    """Tells the test what has begun."""
    sys.stdout.write(f"{word}\n")
    sys.stdout.flush()


def main(path: Path, stop_s: int) -> int:
    """Serves until it is told to stop."""
    settings = Settings(service=ServiceSettings(port=0, stop_s=stop_s))
    listening = Listening("127.0.0.1", 0)
    logs.begin()
    with open_department(path) as department:
        app = create_app(department, settings, listening.link(settings.service))
        stopping = app.state.served.stopping

        @app.get("/stream")
        async def stream() -> StreamingResponse:
            async def lines() -> AsyncIterator[bytes]:
                yield b"open\n"
                await stopping.wait()
                yield b"end\n"

            return StreamingResponse(lines(), media_type="text/event-stream")

        @app.get("/slow")
        async def slow() -> dict[str, bool]:
            say("slow")
            await stopping.wait()
            await asyncio.sleep(0)
            return {"done": True}

        @app.get("/stubborn")
        async def stubborn() -> None:
            say("stubborn")
            await asyncio.Event().wait()

        with serving.stopping() as stop, serving.bound(listening) as listens:
            with serving.serving(app, listening, listens, stop):
                say(serving.address_of(listening, listens))
                stop.wait(30)
            say(f"waiting {app.state.served.batcher.waiting}")
    return 0


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), int(sys.argv[2])))
