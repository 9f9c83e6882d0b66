"""An independent Modbus TCP client: pymodbus.

    modbus_client.py PORT

Each line of standard input is one number to read, "DEVICE SPACE ADDRESS TYPE ORDER", for example
"1 input 10 f32 CDAB"; it is answered by one line: the number, or "exception" and its code. SPACE is input, holding,
discrete or coil; TYPE is i16, u16, f32 or bit. Order of a bit or of one word is of no meaning.
"""

import sys

from pymodbus.client import ModbusTcpClient

TYPES = {
    "i16": ModbusTcpClient.DATATYPE.INT16,
    "u16": ModbusTcpClient.DATATYPE.UINT16,
    "f32": ModbusTcpClient.DATATYPE.FLOAT32,
}


def number(words, type_name, order):
    """A number of words; the byte-swapped orders, which pymodbus lacks, made from those that it has."""
    if type_name == "f32" and order in ("BADC", "DCBA"):
        words = [int.from_bytes(word.to_bytes(2, "big"), "little") for word in words]
    word_order = "little" if order in ("CDAB", "DCBA") else "big"
    return ModbusTcpClient.convert_from_registers(words, TYPES[type_name], word_order=word_order)


def main():
    client = ModbusTcpClient("127.0.0.1", port=int(sys.argv[1]), timeout=10)
    if not client.connect():
        sys.exit("no connection")
    ask = {
        "input": client.read_input_registers,
        "holding": client.read_holding_registers,
        "discrete": client.read_discrete_inputs,
        "coil": client.read_coils,
    }
    for line in sys.stdin:
        device, space, address, type_name, order = line.split()
        count = 2 if type_name == "f32" else 1
        answer = ask[space](int(address), count=count, device_id=int(device))
        if answer.isError():
            print("exception", answer.exception_code, flush=True)
        elif type_name == "bit":
            print(int(answer.bits[0]), flush=True)
        else:
            print(f"{number(answer.registers, type_name, order):.9g}", flush=True)


main()
