"""How one kind of gauge talks: framing, units, calibration, registers; and the bundled profile files."""
