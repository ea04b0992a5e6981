"""A Modbus RTU meter made of libmodbus (Debian's libmodbus5), run as a process of its own.

Usage: libmodbus_server.py PORT UNIT. Register a of the holding table holds 1000 + a, of the input table 2000 + a,
for a from 0 to 199. Prints "ready" once it listens, or exits with 3 where the library is not installed.
"""

from __future__ import annotations

import ctypes
import sys

REGISTERS = 200
NOT_INSTALLED = 3
_LONGEST_FRAME = 260


class _Mapping(ctypes.Structure):
    """``modbus_mapping_t`` of modbus.h."""

    _fields_ = (
        *((name, ctypes.c_int) for name in ("nb_bits", "start_bits", "nb_input_bits", "start_input_bits")),
        *((name, ctypes.c_int) for name in ("nb_input", "start_input", "nb_holding", "start_holding")),
        *((name, ctypes.POINTER(ctypes.c_uint8)) for name in ("bits", "input_bits")),
        *((name, ctypes.POINTER(ctypes.c_uint16)) for name in ("input", "holding")),
    )


def main(port: str, unit: int) -> int:
    """Answer for ever."""
    try:
        library = ctypes.CDLL("libmodbus.so.5")
    except OSError:
        return NOT_INSTALLED
    library.modbus_new_rtu.restype = ctypes.c_void_p
    library.modbus_mapping_new.restype = ctypes.POINTER(_Mapping)
    context = ctypes.c_void_p(library.modbus_new_rtu(port.encode(), 19200, ctypes.c_char(b"N"), 8, 1))
    library.modbus_set_slave(context, unit)
    if library.modbus_connect(context) != 0:
        return 1
    mapping = library.modbus_mapping_new(0, 0, REGISTERS, REGISTERS)
    for address in range(REGISTERS):
        mapping.contents.holding[address] = 1000 + address
        mapping.contents.input[address] = 2000 + address
    sys.stdout.write("ready\n")
    sys.stdout.flush()
    query = ctypes.create_string_buffer(_LONGEST_FRAME)
    while True:
        length = library.modbus_receive(context, query)
        if length > 0:
            library.modbus_reply(context, query, length, mapping)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], int(sys.argv[2])))
