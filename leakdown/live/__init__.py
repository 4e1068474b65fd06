"""Live: from bytes on a port to readings on disk, and what is shown meanwhile.

    texts.toml what a live test has to say
    profiles/  how one kind of gauge talks: framing, units, calibration, registers
    lines/     one line of text: its numbers, words, units, and what could be the pressure (pure)
    streams/   line after line to samples: what `auto` locked on to, false starts, spikes (pure)
    capture/   port -> reader thread -> session (clock, watch, conversion) -> file: nothing is lost
    bench/     what a person sees meanwhile: phase, digits, curve, estimate, what is said, when to stop
    virtual/   a simulated gauge on a port

Imports go down this list only in the order profiles, lines, streams, capture, bench; virtual stands aside.
"""
