"""`leakdown gauges`: the ports of this computer and the gauges that can be read."""

from __future__ import annotations

import json

import typer

from leakdown.cli import options as o
from leakdown.cli.console import say
from leakdown.errors import GaugeError


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("gauges")(gauges)


def gauges(as_json: o.Json = False) -> None:
    """List the serial ports present and the gauge profiles known."""
    from leakdown.gauges.capture.port import ports
    from leakdown.gauges.profiles.find import profiles, user_folder

    known = profiles()
    try:
        present = ports()
    except GaugeError as error:
        say(f"leakdown: {error}")
        present = []
    if as_json:
        print(
            json.dumps(
                {
                    "ports": [
                        {"port": p.device, "about": p.about, "serial_number": p.serial_number or None}
                        for p in present
                    ],
                    "profiles": [
                        {"name": p.name, "about": p.about, "mode": p.mode, "file": p.source or None}
                        for p in known
                    ],
                },
                ensure_ascii=False,
            )
        )
        return
    print("Ports")
    for port in present:
        print(f"  {port.device:<16} {port.about}")
    if not present:
        print("  none found; plug the gauge in, or give its device or URL to `leakdown log` yourself")
    print("\nGauge profiles (--gauge NAME)")
    for profile in known:
        print(f"  {profile.name:<16} {profile.mode:<7} {profile.about}")
    print(f"\nYour own profiles: {user_folder()}")
