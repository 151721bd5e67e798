"""Running the bench page."""

from __future__ import annotations

from starlette.types import ASGIApp


def serve(app: ASGIApp, host: str, port: int) -> None:
    """Serve until interrupted. Addresses in headers are not believed: there is no proxy in front."""
    import uvicorn

    config = uvicorn.Config(
        app,
        host=host,
        port=port,
        access_log=False,
        log_level="warning",
        proxy_headers=False,
        server_header=False,
        lifespan="off",
        timeout_keep_alive=30,
        limit_concurrency=200,
    )
    uvicorn.Server(config).run()
