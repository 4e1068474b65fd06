# Reference firmware of a USB pressure gauge, for MicroPython. Copy it to the board as main.py.
#
# Sends ten lines a second (line format in README.md):
#     p_pa=40123.5 t_ms=1234 n=17*75
# and understands one command a line: ID?  RATE 20  ZERO  STOP  START  QUIT
#
# With a 16-bit converter on I2C (ADS1115 register map) it reads a sensor; without one it plays a slow
# decay from 40 kPa, so that the same file can be tried on a computer (MicroPython's unix port).

import math
import select
import sys
import time

# ---- what belongs to YOUR gauge: change these -----------------------------------------------------
SDA_PIN, SCL_PIN = 4, 5
CONVERTER = 0x48
# calibration, [share of the supply, Pa] in rising order: at rest, and one known pressure each side
POINTS = ((0.10, -100000.0), (0.50, 0.0), (0.90, 100000.0))
RATE_HZ = 10
AVERAGE = 8  # conversions averaged into one reading
# ----------------------------------------------------------------------------------------------------

RANGE_LOW, RANGE_HIGH = 0.04, 0.96  # outside: broken wire, or past the sensor's end
CHANNEL = (0x4000, 0x5000)  # 0: sensor output (halved), 1: supply (halved)


def checksum(text):
    total = 0
    for char in text:
        total ^= ord(char)
    return total


def pascal(share):
    """Straight lines between the calibration points, carried on at both ends."""
    i = 1
    while i < len(POINTS) - 1 and share > POINTS[i][0]:
        i += 1
    (x0, y0), (x1, y1) = POINTS[i - 1], POINTS[i]
    return y0 + (y1 - y0) * (share - x0) / (x1 - x0)


class Converter:
    """Sensor and supply through the same converter: their ratio does not care how good 5 V is."""

    def __init__(self):
        from machine import I2C, Pin

        self.bus = I2C(0, scl=Pin(SCL_PIN), sda=Pin(SDA_PIN), freq=400000)
        if CONVERTER not in self.bus.scan():
            raise OSError(f"no converter at 0x{CONVERTER:02x}")

    def raw(self, channel):
        # start one conversion: +/-4.096 V, single shot, 860 a second
        config = 0x8000 | CHANNEL[channel] | 0x0200 | 0x0100 | 0x00E3
        self.bus.writeto_mem(CONVERTER, 1, bytes((config >> 8, config & 255)))
        time.sleep_ms(2)
        high, low = self.bus.readfrom_mem(CONVERTER, 0, 2)
        value = high << 8 | low
        return value - 65536 if value & 0x8000 else value

    def share(self):
        sensor = supply = 0
        for _ in range(AVERAGE):
            sensor += self.raw(0)
            supply += self.raw(1)
        return sensor / supply if supply > 0 else -1.0


class Pretend:
    """No hardware: 40 kPa that leak away with a time constant of 60 s, and a little noise."""

    def __init__(self):
        self.start = time.ticks_ms()
        self.seed = 1

    def share(self):
        seconds = time.ticks_diff(time.ticks_ms(), self.start) / 1000
        self.seed = (self.seed * 1103515245 + 12345) & 0x7FFFFFFF
        noise = (self.seed / 0x7FFFFFFF - 0.5) * 40.0
        return 0.5 + (40000.0 * math.exp(-seconds / 60.0) + noise) / 250000.0


def sensor():
    try:
        return Converter()
    except (ImportError, AttributeError, OSError, TypeError, ValueError) as error:
        print(f"# no converter ({error}): playing a decay")
        return Pretend()


def line(share, zero_pa, time_ms, number):
    pressure = "OL"
    if RANGE_LOW <= share <= RANGE_HIGH:
        pressure = f"{pascal(share) - zero_pa:.1f}"
    body = f"p_pa={pressure} t_ms={time_ms} n={number}"
    return f"{body}*{checksum(body):02X}"


class Gauge:
    def __init__(self):
        self.source = sensor()
        self.zero_pa = 0.0
        self.running = True
        self.pause_ms = 1000 // RATE_HZ
        self.number = 0

    def obey(self, command):
        """Answers start with # so that no logger takes them for readings. False ends the program."""
        word, _, rest = command.partition(" ")
        if word == "ID?":
            print("# leakdown-gauge 1")
        elif word == "RATE" and rest.isdigit() and 1 <= int(rest) <= 25:
            self.pause_ms = 1000 // int(rest)
            print("# rate " + rest)
        elif word == "ZERO":
            self.zero_pa = pascal(self.source.share())
            print(f"# zero {self.zero_pa:.1f}")
        elif word in ("STOP", "START"):
            self.running = word == "START"
            print("# " + word.lower())
        elif word == "QUIT":
            return False
        elif word:
            print("# ? " + command)
        return True

    def run(self):
        inbox = select.poll()
        inbox.register(sys.stdin, select.POLLIN)
        due = time.ticks_ms()
        while True:
            if inbox.poll(0):
                command = sys.stdin.readline()
                if not command or not self.obey(command.strip()):
                    return
            now = time.ticks_ms()
            if self.running and time.ticks_diff(now, due) >= 0:
                due = time.ticks_add(due, self.pause_ms)
                if time.ticks_diff(now, due) > 1000:
                    due = now  # after a stop: do not hurry to catch up
                print(line(self.source.share(), self.zero_pa, now, self.number))
                self.number += 1
            time.sleep_ms(1)


Gauge().run()
