"""Modbus registers -> numbers, and the RTU frames around them. Pure.

Source: MODBUS Application Protocol Specification v1.1b3 (functions 03 and 04, big-endian registers) and
MODBUS over Serial Line v1.02 (CRC-16: polynomial 0xA001 reflected, start 0xFFFF, low byte first).
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

from leakdown.errors import GaugeError

REGISTER_TYPES = {
    "int16": (1, ">h"),
    "uint16": (1, ">H"),
    "int32": (2, ">i"),
    "uint32": (2, ">I"),
    "float32": (2, ">f"),
}
EXCEPTIONS = {
    1: "unknown function",
    2: "no such register",
    3: "value not allowed",
    4: "device failure",
    5: "busy for long (acknowledged)",
    6: "busy",
}


@dataclass(frozen=True)
class Register:
    """Where the pressure is: device, function (3 or 4), address from 0, type, order of the two words."""

    unit_id: int
    function: int
    address: int
    kind: str = "int16"
    low_word_first: bool = False

    @property
    def count(self) -> int:
        """Registers to read."""
        return REGISTER_TYPES[self.kind][0]

    def value(self, registers: list[int]) -> float:
        """The number in the registers read. Raises GaugeError for a wrong count."""
        if len(registers) != self.count:
            raise GaugeError(f"{len(registers)} registers came, {self.count} were asked for")
        words = list(reversed(registers)) if self.low_word_first else registers
        packed = struct.pack(f">{len(words)}H", *words)
        return float(struct.unpack(REGISTER_TYPES[self.kind][1], packed)[0])


def crc16(data: bytes) -> int:
    """CRC-16/MODBUS of `data`."""
    crc = 0xFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ 0xA001 if crc & 1 else crc >> 1
    return crc


def request(register: Register) -> bytes:
    """The RTU frame that asks for a register."""
    body = struct.pack(">BBHH", register.unit_id, register.function, register.address, register.count)
    return body + struct.pack("<H", crc16(body))


def reply_registers(register: Register, frame: bytes) -> list[int]:
    """The registers in a reply frame. Raises GaugeError: short, wrong CRC, another device, an exception."""
    if len(frame) < 5:
        raise GaugeError(f"a Modbus reply of {len(frame)} bytes is too short")
    body, crc = frame[:-2], struct.unpack("<H", frame[-2:])[0]
    if crc16(body) != crc:
        raise GaugeError("a Modbus reply with a wrong CRC")
    if body[0] != register.unit_id or body[1] & 0x7F != register.function:
        raise GaugeError(f"a Modbus reply from device {body[0]}, function {body[1] & 0x7F}: not what was asked")
    if body[1] & 0x80:
        raise GaugeError(f"the gauge refused: {EXCEPTIONS.get(body[2], 'exception')} (Modbus exception {body[2]})")
    if body[2] != len(body) - 3:
        raise GaugeError("a Modbus reply of the wrong length")
    return list(struct.unpack(f">{body[2] // 2}H", body[3 : 3 + body[2] // 2 * 2]))
