"""The bench page: the whole job in a browser, rendered on the server. `make_app` gives an ASGI app."""

from groovewright.web.app import make_app
from groovewright.web.bench import Bench

__all__ = ["Bench", "make_app"]
