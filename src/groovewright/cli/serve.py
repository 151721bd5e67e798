"""`groovewright serve`: the bench page in a browser."""

from __future__ import annotations

import socket
from pathlib import Path

import click

from groovewright.quantities import CannotBeDoneError, InputError

LOCAL, EVERYWHERE = "127.0.0.1", "0.0.0.0"


@click.command("serve")
@click.option("--host", metavar="ADDRESS", help="Where to listen; 127.0.0.1, or every address with --lan.")
@click.option(
    "--port", type=click.IntRange(0, 65535), default=8033, show_default=True, help="0: any free one."
)
@click.option(
    "--database", metavar="URL", help="The record: a file or postgresql://...; your own if not given."
)
@click.option("--lan", is_flag=True, help="Let other devices in that pair with the code shown here.")
@click.option("--no-access-log", is_flag=True, help="Don't print a line for each request.")
@click.option("--bench", default="", metavar="NAME", help="A name for this bench, kept with every step.")
@click.option("--recordings", metavar="FOLDER", type=click.Path(path_type=Path),
              help="A folder whose recordings can be picked at the stage listen.")  # fmt: skip
def command(
    host: str | None,
    port: int,
    database: str | None,
    lan: bool,
    no_access_log: bool,
    bench: str,
    recordings: Path | None,
) -> None:
    """Open the bench page: the whole job in a browser, on this machine only.

    With --lan a telephone or tablet on the same network may come in, after it is paired.

    \b
    Example:
      groovewright serve --lan
    """
    from groovewright.store import open_store
    from groovewright.web import make_app
    from groovewright.web.bench import LOCAL_HOSTS, Bench, is_loopback, lan_address, silent
    from groovewright.web.devices import pairing_address, spaced
    from groovewright.web.first_job import add_demo_job
    from groovewright.web.listen_folder import checked_folder
    from groovewright.web.serving import serve

    wanted = host or (EVERYWHERE if lan else LOCAL)
    if not lan and not is_loopback(LOCAL if wanted == "localhost" else wanted):
        raise InputError(
            f"--host {wanted} is open to other devices; add --lan, so that they have to pair first, or leave --host out"
        )
    folder = checked_folder(recordings) if recordings else None
    port = free_port(wanted, port)
    store = open_store(database, bench=bench)
    seen = lan_address() if wanted in (EVERYWHERE, "::") else wanted
    running = Bench(
        store=store,
        lan=lan,
        hosts=LOCAL_HOSTS | ({seen.lower(), *own_names()} if lan else set()),
        address=f"http://{seen}:{port}" if lan else "",
        tell=click.echo,
        log=silent if no_access_log else click.echo,
        recordings=folder,
    )
    try:
        add_demo_job(store)
        click.echo(
            f"The bench page: http://{LOCAL if wanted == EVERYWHERE else wanted}:{port}/  (stop it with Ctrl-C)"
        )
        click.echo(f"The record: {store.place}")
        if lan:
            click.echo(f"Other devices: {running.address}/pair with the code {spaced(running.pairing.code)}")
            print_code(pairing_address(running))
        serve(make_app(running), wanted, port)
    finally:
        store.close()


def own_names() -> set[str]:
    """Return the names by which other devices may call this machine."""
    name = socket.gethostname().lower()
    return {name, f"{name}.local"}


def free_port(host: str, port: int) -> int:
    """Return the port, or a free one for 0.

    Raises
    ------
    CannotBeDoneError
        It is taken, or the address is not this machine's.
    """
    kind = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(kind, socket.SOCK_STREAM) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as error:
            raise CannotBeDoneError(
                f"can't listen on {host}, port {port}: {error.strerror}; name another --port, or 0 for any free one"
            ) from None
        return int(probe.getsockname()[1])


def print_code(text: str) -> None:
    """Print a code that a telephone's camera reads, where there is a screen to read it from."""
    import sys

    import segno

    if sys.stdout.isatty():
        segno.make(text, error="m", micro=False).terminal(compact=True)
