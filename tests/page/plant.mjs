// A Modbus TCP server of input registers (f32, ABCD) and discrete inputs, on loopback, for the tests of the page:
// function codes 2 and 4 of the Modbus application protocol V1.1b3 (6.2, 6.4).
import net from "node:net";

export async function servePlant(values, bits = []) {
  const sockets = new Set();
  const server = net.createServer((socket) => {
    sockets.add(socket);
    socket.on("close", () => sockets.delete(socket));
    socket.on("error", () => {});
    let rest = Buffer.alloc(0);
    socket.on("data", (data) => {
      rest = Buffer.concat([rest, data]);
      while (rest.length >= 6 && rest.length >= 6 + rest.readUInt16BE(4)) {
        const length = 6 + rest.readUInt16BE(4);
        socket.write(answer(rest.subarray(0, length), values, bits));
        rest = rest.subarray(length);
      }
    });
  });
  await new Promise((listens) => server.listen(0, "127.0.0.1", listens));
  return {
    address: `127.0.0.1:${server.address().port}`,
    values,
    bits,
    stop: () => new Promise((stopped) => {
      for (const socket of sockets) socket.destroy();
      server.close(stopped);
    }),
  };
}

function answer(request, values, bits) {
  const [code, from, count] = [request[7], request.readUInt16BE(8), request.readUInt16BE(10)];
  let data;
  if (code === 4) {
    const words = Buffer.alloc(values.length * 4);
    values.forEach((value, place) => words.writeFloatBE(value, place * 4));
    data = words.subarray(from * 2, (from + count) * 2);
  } else if (code === 2) {
    data = Buffer.alloc(Math.ceil(count / 8));
    for (let bit = 0; bit < count; bit++) if (bits[from + bit]) data[bit >> 3] |= 1 << (bit & 7);
  }
  const fits = data && (code === 2 || data.length === count * 2);
  const body = fits ? Buffer.concat([Buffer.from([code, data.length]), data]) : Buffer.from([code | 0x80, 2]);
  const head = Buffer.from(request.subarray(0, 7));
  head.writeUInt16BE(body.length + 1, 4);
  return Buffer.concat([head, body]);
}
