"""Telegrams as meters send them.

Numbers and order of the lines are facts from the example telegrams in the tests of the public repository
ndokter/dsmr_parser (test/example_telegrams.py: versions 2.2, 4.2 and 5). The identification is our own, and so each
check is made anew, by a second way of working it out; over the published telegrams as they stand, ``crc16`` gave their
checks 6796, 6EEE and 7EF9.
"""

from __future__ import annotations

HEAD = r"/XMP5\2EXAMPLE"
_V5_LINES = """
1-3:0.2.8(50)
0-0:1.0.0(170102192002W)
0-0:96.1.1(4B384547303034303436333935353037)
1-0:1.8.1(000004.426*kWh)
1-0:1.8.2(000002.399*kWh)
1-0:2.8.1(000002.444*kWh)
1-0:2.8.2(000000.000*kWh)
0-0:96.14.0(0002)
1-0:1.7.0(00.244*kW)
1-0:2.7.0(00.000*kW)
1-0:99.97.0(0)(0-0:96.7.19)
1-0:32.32.0(00000)
0-0:96.13.0()
1-0:32.7.0(0230.0*V)
1-0:52.7.0(0230.0*V)
1-0:72.7.0(0229.0*V)
1-0:31.7.0(0.48*A)
1-0:51.7.0(0.44*A)
1-0:71.7.0(0.86*A)
1-0:21.7.0(00.070*kW)
1-0:41.7.0(00.032*kW)
1-0:61.7.0(00.142*kW)
1-0:22.7.0(00.000*kW)
1-0:42.7.0(00.000*kW)
1-0:62.7.0(00.000*kW)
0-1:24.1.0(003)
0-1:24.2.1(170102161005W)(00000.107*m3)
"""
_V4_LINES = """
1-3:0.2.8(42)
0-0:1.0.0(161113205757W)
1-0:1.8.1(001581.123*kWh)
1-0:1.7.0(02.027*kW)
1-0:2.7.0(00.000*kW)
1-0:99.97.0(3)(0-0:96.7.19)(000104180320W)(0000237126*s)(000101000001W)(2147583646*s)(000102000003W)(2317482647*s)
1-0:31.7.0(000*A)
1-0:51.7.0(006*A)
1-0:71.7.0(002*A)
1-0:21.7.0(00.170*kW)
1-0:22.7.0(00.000*kW)
1-0:41.7.0(01.247*kW)
1-0:42.7.0(00.000*kW)
1-0:61.7.0(00.209*kW)
1-0:62.7.0(00.000*kW)
"""
_V2_LINES = """
0-0:96.1.1(00000000000000)
1-0:1.8.1(00001.001*kWh)
1-0:1.7.0(0001.01*kW)
1-0:2.7.0(0000.00*kW)
0-0:17.0.0(0999.00*kW)
0-0:96.13.1()
0-1:24.3.0(161107190000)(00)(60)(1)(0-1:24.2.1)(m3)
(00001.001)
0-1:24.4.0(1)
"""


def unchecked(lines: str, head: str = HEAD) -> bytes:
    """Make a telegram up to its exclamation mark."""
    return f"{head}\n\n{lines.strip()}\n!".replace("\n", "\r\n").encode("ascii")


def checked(lines: str, head: str = HEAD) -> bytes:
    """Make a telegram with its check."""
    body = unchecked(lines, head)
    return body + f"{_crc(body):04X}\r\n".encode("ascii")


def _crc(data: bytes) -> int:
    """Work out the check by dividing bit by bit, each byte's lowest bit first, instead of with a mirrored divisor."""
    rest = 0
    for bit in (byte >> place & 1 for byte in data for place in range(8)):
        out = rest >> 15 & 1
        rest = (rest << 1 & 0xFFFF) ^ (0x8005 if out ^ bit else 0)
    return int(f"{rest:016b}"[::-1], 2)


V5 = checked(_V5_LINES)
V4 = checked(_V4_LINES)
V2 = unchecked(_V2_LINES) + b"\r\n"


def readout(*lines: str) -> bytes:
    """Make the data message of a meter that was asked: STX, lines, ETX and the exclusive or of all behind STX."""
    block = ("\r\n".join([*lines, "!", ""]) + "\x03").encode("ascii")
    check = 0
    for byte in block:
        check ^= byte
    return b"\x02" + block + bytes([check])
