"""`leakdown gauges`: the ports of this computer and the gauges that can be read."""

from __future__ import annotations

from typing import TYPE_CHECKING

import typer

from leakdown.cli import options as o
from leakdown.cli.console import out, print_json, say
from leakdown.errors import GaugeError

if TYPE_CHECKING:  # pyserial is loaded when the command is called
    from leakdown.live.capture.port import PortInfo
    from leakdown.live.profiles.profile import Profile


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("gauges")(gauges)


def gauges(as_json: o.Json = False) -> None:
    """List the serial ports present and the gauge profiles known."""
    from leakdown.live.capture.port import ports
    from leakdown.live.profiles.files import own_folder, profiles

    known = profiles()
    try:
        present = ports()
    except GaugeError as error:
        say(f"leakdown: {error}")
        present = []
    if as_json:
        print_json(_listed(present, known))
        return
    own = (text for p in present for text in (p.device, p.about))
    out(_shown(present, known), own)
    print(f"\nYour own profiles: {own_folder()}")


def _listed(present: list[PortInfo], known: list[Profile]) -> dict[str, object]:
    return {
        "ports": [{"port": p.device, "about": p.about, "serial_number": p.serial_number or None} for p in present],
        "profiles": [{"name": p.name, "about": p.about, "mode": p.mode, "file": p.source or None} for p in known],
    }


def _shown(present: list[PortInfo], known: list[Profile]) -> str:
    lines = ["Ports", *(f"  {p.device:<16} {p.about}".rstrip() for p in present)]
    if not present:
        lines.append("  none found; plug the gauge in, or give its device or URL to `leakdown log` yourself")
    lines += ["", "Gauge profiles (--gauge NAME)"]
    return "\n".join([*lines, *(f"  {p.name:<16} {p.mode:<7} {p.about}" for p in known)])
