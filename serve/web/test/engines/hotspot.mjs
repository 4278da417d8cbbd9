// A hotspot for browsers: an HTTP proxy that knows one name, usually the laptop's, and can be out of range.
// By name and without HTTPS the page is not secure, as it is on a phone; 127.0.0.1 would be.
import { createServer, request } from "node:http";
import { connect } from "node:net";

export const laptop = "crew-7.local";

export async function openHotspot(name = laptop) {
  const open = new Set();
  const strangers = new Set();
  let far = false;
  const refuse = (host, socket) => {
    if (host !== name) strangers.add(host);
    socket.destroy();
  };
  const server = createServer((req, res) => {
    const url = new URL(req.url, `http://${req.headers.host}`);
    if (far || url.hostname !== name) return refuse(url.hostname, req.socket);
    const up = request({ host: "127.0.0.1", port: url.port, path: url.pathname + url.search, method: req.method, headers: req.headers }, (answer) => {
      res.writeHead(answer.statusCode, answer.headers);
      answer.pipe(res);
      answer.on("error", () => res.destroy());
    });
    up.on("error", () => res.destroy());
    res.on("close", () => up.destroy());
    req.pipe(up);
  });
  server.on("connect", (req, socket) => {
    const [host, port] = req.url.split(":");
    if (far || host !== name) return refuse(host, socket);
    const up = connect(Number(port), "127.0.0.1", () => {
      socket.write("HTTP/1.1 200 Connected\r\n\r\n");
      up.pipe(socket).pipe(up);
    });
    for (const [one, other] of [[up, socket], [socket, up]]) one.on("error", () => other.destroy()).on("close", () => other.destroy());
  });
  server.on("connection", (socket) => {
    open.add(socket);
    socket.on("close", () => open.delete(socket)).on("error", () => undefined);
  });
  await new Promise((done) => server.listen(0, "127.0.0.1", done));
  return {
    proxy: `http://127.0.0.1:${server.address().port}`,
    /** The hosts besides that one that were asked for. */
    strangers: () => [...strangers],
    /** Out of range, or in it again. */
    far(on) {
      far = on;
      if (on) open.forEach((s) => s.destroy());
    },
    async close() {
      server.close();
      open.forEach((s) => s.destroy());
    },
  };
}
