"""`colormatch page`: on this machine only, or shared on purpose, with a key."""

from __future__ import annotations

import os
import socket
import ssl
from ipaddress import ip_address
from pathlib import Path
from typing import Annotated

import typer

from ..errors import InputError
from . import asking

LOOPBACK = "127.0.0.1"


def page(
    port: Annotated[int, typer.Option(min=1, max=65535, help="Port.")] = 8501,
    share: Annotated[bool, typer.Option("--share", help="Also for a phone in the same network, with a key.")] = False,
    new_key: Annotated[
        bool, typer.Option("--new-key", help="With --share: a new key; who has the old is out.")
    ] = False,
    address: Annotated[
        str | None, typer.Option(help="The address to listen on; without, this machine only or, with --share, all.")
    ] = None,
    show: Annotated[bool, typer.Option(help="Open the browser.")] = True,
    certificate: Annotated[Path | None, typer.Option(help="PEM certificate: the page is then https.")] = None,
    certificate_key: Annotated[Path | None, typer.Option(help="The certificate's private key, PEM.")] = None,
    library: asking.LibraryOption = None,
) -> None:
    """Open the page in the browser; without --share, on this machine only."""
    from ..serving.access import begin
    from ..serving.server import serve

    address = _checked_address(address or ("0.0.0.0" if share else LOOPBACK), share=share)
    files = _checked_certificate(certificate, certificate_key)
    if library is not None:
        asking.opened(library).close()
        os.environ["COLORMATCH_LIBRARY"] = library if "://" in library else str(Path(library).resolve())
    _require_free(address, port)
    access = begin(_url(address, port, secure=bool(files)), share=share, new_key=new_key)
    typer.echo(f"The page: {access.link} (Ctrl-C here stops it)")
    if share:
        _say_shared(access.link, secure=bool(files))
    serve(access, address=address, port=port, show=show, **files)


def _say_shared(link: str, *, secure: bool) -> None:
    import segno

    typer.echo("A phone in the same network scans this, once; whoever has this address can see and change the library:")
    typer.echo()
    segno.make(link).terminal(compact=True)
    if not secure:
        typer.echo(
            "Caution: on plain http whoever listens in that network can read along, the key included. Share it at "
            "home or in the workshop only, or give --certificate and --certificate-key."
        )


def _checked_address(address: str, *, share: bool) -> str:
    try:
        found = ip_address(LOOPBACK if address == "localhost" else address)
    except ValueError:
        raise InputError(f"{address!r} is not an address; write 127.0.0.1 (this machine) or 0.0.0.0.") from None
    if not found.is_loopback and not share:
        raise InputError(
            f"{address} can be reached by others in the network. Add --share: they then need the page's key."
        )
    return str(found)


def _checked_certificate(certificate: Path | None, key: Path | None) -> dict[str, Path]:
    """The two files of an https page by what the server calls them; both or neither."""
    if certificate is None and key is None:
        return {}
    certificate, key = _pem("--certificate", certificate), _pem("--certificate-key", key)
    try:  # a key behind a password has none here: nobody sits at a server that starts
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(certificate, key, password="")
    except (ssl.SSLError, OSError, ValueError) as error:
        raise InputError(
            f"{certificate} and {key} are not a certificate and its private key ({error}). Give two PEM files that "
            "belong together, the key without a password."
        ) from None
    return {"certificate": certificate, "certificate_key": key}


def _pem(option: str, file: Path | None) -> Path:
    if file is None:
        raise InputError(f"{option} is missing; https needs the certificate and its private key, both as PEM files.")
    if not file.is_file():
        raise InputError(f"{option} names {file}, which is no file. Give the PEM file's place.")
    return file.resolve()


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


def _url(address: str, port: int, *, secure: bool = False) -> str:
    host = _reached_at(address)
    return f"{'https' if secure else 'http'}://" + (f"[{host}]:{port}" if ":" in host else f"{host}:{port}")


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
            return LOOPBACK
