"""Beside the main job: the page, learning from tiles, the next tile, drying."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
from ipaddress import ip_address
from pathlib import Path
from typing import Annotated

import typer

from ..errors import InputError
from . import asking


def page(
    port: Annotated[int, typer.Option(min=1, max=65535, help="Port.")] = 8501,
    address: Annotated[
        str, typer.Option(help="127.0.0.1: this machine only. 0.0.0.0: also a phone in the same network.")
    ] = "127.0.0.1",
    show: Annotated[bool, typer.Option(help="Open the browser.")] = True,
    library: asking.LibraryOption = None,
) -> None:
    """Open the page in the browser; without --address, on this machine only."""
    package = Path(__file__).resolve().parents[1]
    places = (package / "app.py", package.parent / "app.py")
    script = next((place for place in places if place.is_file()), None)
    if script is None:
        raise InputError("The page's file app.py is not beside the package; install colormatch again.")
    if library is not None:
        asking.opened(library).close()
        library = library if "://" in library else str(Path(library).resolve())
    address = _checked_address(address)
    if not ip_address(address).is_loopback:
        typer.echo(
            "Caution: everyone in this network can open the page, see and change the library; it asks no password."
        )
    _require_free(address, port)
    options = {
        "server.address": address,
        "server.port": str(port),
        "server.headless": str(not show).lower(),
        # Shown under any other name than this, the page is turned away: no other site can use it.
        "browser.serverAddress": _reached_at(address),
        "server.showEmailPrompt": "false",  # else the first start on a machine asks for one, and waits
        "browser.gatherUsageStats": "false",
        "logger.hideWelcomeMessage": "true",  # ours is below
    }
    command = [sys.executable, "-m", "streamlit", "run", str(script), *(f"--{k}={v}" for k, v in options.items())]
    environment = {**os.environ, **({"COLORMATCH_LIBRARY": library} if library is not None else {})}
    typer.echo(_where(address, port))
    # From the script's folder: the look of the page is in .streamlit/config.toml beside it.
    os.chdir(script.parent)
    if os.name == "posix":  # in place of this process, so that whoever stops it stops the page
        os.execve(sys.executable, command, environment)
    raise typer.Exit(subprocess.run(command, env=environment, check=False).returncode)


def _checked_address(address: str) -> str:
    try:
        return str(ip_address("127.0.0.1" if address == "localhost" else address))
    except ValueError:
        raise InputError(f"{address!r} is not an address; write 127.0.0.1 (this machine) or 0.0.0.0.") from None


def _require_free(address: str, port: int) -> None:
    family = socket.AF_INET6 if ip_address(address).version == 6 else socket.AF_INET
    with socket.socket(family) as trial:
        if os.name == "posix":  # as servers do: a port that was just closed counts as free
            trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            trial.bind((address, port))
        except OSError as error:
            raise InputError(
                f"The page cannot use port {port} of {address} ({error.strerror}). If a page is open there already, "
                f"go to {_url(address, port)}; else choose another port, such as --port {port % 65535 + 1}."
            ) from error


def _where(address: str, port: int) -> str:
    everywhere, found = ip_address(address).is_unspecified, not ip_address(_reached_at(address)).is_loopback
    phone = ", also for a phone in the same network" if everywhere and found else ""
    return f"The page: {_url(address, port)}{phone} (Ctrl-C here stops it)"


def _url(address: str, port: int) -> str:
    host = _reached_at(address)
    return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"


def _reached_at(address: str) -> str:
    """The address to write in a browser; for "on every address", that of this machine in its network."""
    host = ip_address(address)
    if not host.is_unspecified:
        return address
    if host.version == 6:
        return "::1"
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as trial:
        try:
            trial.connect(("192.0.2.1", 9))  # a documentation address (RFC 5737); nothing is sent
            return str(trial.getsockname()[0])
        except OSError:  # no network
            return "127.0.0.1"


def learn(library: asking.LibraryOption = None) -> None:
    """Learn the palette from the library's measured tiles and keep it as a new version."""
    from ..studio import learn_studio

    with asking.opened(library) as opened:
        _, report = learn_studio(opened)
    typer.echo(report.text())


def next_tiles(
    count: Annotated[int, typer.Option(help="How many tiles you are ready to cast.")] = 3,
    lab: Annotated[list[str] | None, typer.Option(help="A shade in demand as L*,a*,b*; may be repeated.")] = None,
    base: Annotated[str | None, typer.Option(help="Only tiles on this cement.")] = None,
    library: asking.LibraryOption = None,
) -> None:
    """Which tiles to cast next to be surer of the shades in demand."""
    from ..advice import next_tiles as advise
    from ..shade import Shade
    from ..studio import shades_in_demand, studio_palette

    with asking.opened(library) as opened:
        palette = studio_palette(opened)
        typed = [Shade(asking.numbers(text, 3, "The shade")) for text in lab or []]
        shades = typed or shades_in_demand(opened)
    if not shades:
        raise InputError("The library has no shades yet; say which are in demand: --lab L,a,b.")
    for number, tile in enumerate(advise(palette, shades=shades, count=count, base=base), start=1):
        typer.echo(f"{number}. {tile.title}. {tile.why}")


def drying(
    weights: Annotated[list[str], typer.Argument(help="day=grams, such as 0=412.3 1=401.0 2=395.2 3=392.1")],
    step: Annotated[float, typer.Option(help="Smallest step of your scale, in g.")] = 0.1,
) -> None:
    """When a piece may be sealed, from its daily weights."""
    from ..bench.drying import follow_drying

    pairs = [text.partition("=") for text in weights]
    if not all(equals for _, equals, _ in pairs):
        raise InputError("Write each weight as day=grams, such as 0=412.3 1=401.0.")
    days = [asking.numbers(day, 1, "A day")[0] for day, _, _ in pairs]
    grams = [asking.numbers(mass, 1, "A weight")[0] for _, _, mass in pairs]
    typer.echo(follow_drying(days, grams, scale_step_g=step).words)
