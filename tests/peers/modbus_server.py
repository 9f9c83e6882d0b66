"""A Modbus TCP server on loopback for tests: framing and protocol by pymodbus, registers and faults by command.

    modbus_server.py PORT REGISTERS [COMMANDS]

PORT 0 takes a free one. REGISTERS is JSON: {"1": {"input": {"0": [555, 0]}, "holding": {}}}, device, space, first
address, words; a word of the spaces "coil" and "discrete" is a bit, 0 or 1. COMMANDS is a JSON list, obeyed before the first connection. The first line printed is the port. Then
each line of standard input is one command in JSON, answered by "done" or by what is wrong with it; the server ends
when standard input does.

    {"do": "set", "device": 1, "space": "input", "address": 0, "words": [1, 2]}
    {"do": "number", "device": 1, "space": "input", "address": 0, "value": 3.4, "type": "f32", "order": "ABCD"}
    {"do": "mode", "mode": "normal" | "hang"}          hang: accepts connections and requests, never answers
    {"do": "silence", "device": 1, "on": true}         one device does not answer
    {"do": "refuse", "device": 1, "space": "input", "first": 0, "last": 9, "code": 4}     code 0: no longer

A device that has no registers is answered for by exception 0B, as a gateway does; a register that is not there by 02.
"""

import asyncio
import json
import sys

from pymodbus.client.mixin import ModbusClientMixin
from pymodbus.constants import ExcCodes
from pymodbus.exceptions import NoSuchIdException
from pymodbus.server import ModbusTcpServer
from pymodbus.simulator import DataType, SimData, SimDevice

SPACES = {1: "coil", 2: "discrete", 3: "holding", 4: "input"}

TYPES = {
    "i16": ModbusClientMixin.DATATYPE.INT16,
    "u16": ModbusClientMixin.DATATYPE.UINT16,
    "i32": ModbusClientMixin.DATATYPE.INT32,
    "u32": ModbusClientMixin.DATATYPE.UINT32,
    "f32": ModbusClientMixin.DATATYPE.FLOAT32,
    "f64": ModbusClientMixin.DATATYPE.FLOAT64,
}


def words_of(value, type_name, order):
    """The words of a number as pymodbus lays them out; the byte-swapped orders, which it lacks, made from those."""
    if type_name[0] in "iu":
        value = round(value)
    word_order = {"ABCD": "big", "BADC": "big", "CDAB": "little", "DCBA": "little"}[order]
    words = ModbusClientMixin.convert_to_registers(value, TYPES[type_name], word_order=word_order)
    if order in ("BADC", "DCBA"):
        words = [int.from_bytes(word.to_bytes(2, "big"), "little") for word in words]
    return words


class Plant:
    """What the server asks for registers."""

    def __init__(self, registers):
        self.words = {}      # (device, space, address) -> word
        self.refused = {}    # the same -> exception code
        self.silent = set()
        self.mode = "normal"
        for device, spaces in registers.items():
            for space, blocks in spaces.items():
                for address, words in blocks.items():
                    self.set(int(device), space, int(address), words)

    def set(self, device, space, address, words):
        assert space in SPACES.values(), f"no such space: {space}"
        for place, word in enumerate(words):
            assert 0 <= word <= 0xFFFF, f"no word: {word}"
            self.words[device, space, address + place] = word

    def obey(self, command):
        match command["do"]:
            case "set":
                self.set(command["device"], command["space"], command["address"], command["words"])
            case "number":
                words = words_of(command["value"], command["type"], command["order"])
                self.set(command["device"], command["space"], command["address"], words)
            case "mode":
                assert command["mode"] in ("normal", "hang"), f"no such mode: {command['mode']}"
                self.mode = command["mode"]
            case "silence":
                (self.silent.add if command["on"] else self.silent.discard)(command["device"])
            case "refuse":
                for address in range(command["first"], command["last"] + 1):
                    self.refused[command["device"], command["space"], address] = command["code"]
            case other:
                raise ValueError(f"no such command: {other}")

    async def async_getValues(self, device_id, func_code, address, count=1):
        """Called by pymodbus for a read: words, or an exception code."""
        if self.mode == "hang" or device_id in self.silent:
            raise NoSuchIdException  # with ignore_missing_devices this is silence
        if not any(device == device_id for device, _, _ in self.words):
            return ExcCodes.GATEWAY_NO_RESPONSE
        if func_code not in SPACES:
            return ExcCodes.ILLEGAL_FUNCTION
        places = [(device_id, SPACES[func_code], address + place) for place in range(count)]
        for place in places:
            if self.refused.get(place):
                return ExcCodes(self.refused[place])
        if any(place not in self.words for place in places):
            return ExcCodes.ILLEGAL_ADDRESS
        words = [self.words[place] for place in places]
        return [word != 0 for word in words] if func_code in (1, 2) else words

    async def async_setValues(self, device_id, func_code, address, values):
        """Called by pymodbus for a write: nothing here may be written."""
        return ExcCodes.ILLEGAL_FUNCTION


async def main(port, plant):
    unused = SimDevice(1, [SimData(0, values=0, datatype=DataType.REGISTERS)])
    server = ModbusTcpServer(unused, address=("127.0.0.1", port), ignore_missing_devices=True)
    server.context = plant
    await server.serve_forever(background=True)
    print(server.transport.sockets[0].getsockname()[1], flush=True)
    while line := await asyncio.to_thread(sys.stdin.readline):
        try:
            plant.obey(json.loads(line))
            print("done", flush=True)
        except (AssertionError, KeyError, TypeError, ValueError) as error:
            print(f"{type(error).__name__}: {error}", flush=True)
    await server.shutdown()


if __name__ == "__main__":
    registers = Plant(json.loads(sys.argv[2]))
    for early in json.loads(sys.argv[3]) if len(sys.argv) > 3 else []:
        registers.obey(early)
    asyncio.run(main(int(sys.argv[1]), registers))
