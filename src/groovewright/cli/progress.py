"""A bar on the terminal for work that takes a while; nothing where nobody looks."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def shown_progress(
    what: str, *, quiet: bool = False
) -> Iterator[tuple[Callable[[float], None], Callable[[str], None] | None]]:
    """Show a bar on standard error; give a function that takes the share done, and one that prints a line.

    The second is None where nobody looks: with `quiet`, or where standard error is no terminal.
    """
    from rich.console import Console
    from rich.progress import Progress

    console = Console(stderr=True)
    seen = console.is_terminal and not quiet
    with Progress(console=console, transient=True, disable=not seen) as progress:
        task = progress.add_task(what, total=1.0)

        def tell(share: float) -> None:
            progress.update(task, completed=share)

        def say(line: str) -> None:
            progress.console.print(line)

        yield tell, say if seen else None
