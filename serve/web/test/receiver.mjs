// An invented receiver of positions, and a way to the field server that counts its streams.
import { spawn } from "node:child_process";
import { createServer as httpServer, request } from "node:http";
import { createServer } from "node:net";
import { want } from "./harness.mjs";

/** A sentence of NMEA 0183 with its checksum. */
export function sentence(body) {
  let sum = 0;
  for (const c of body) sum ^= c.charCodeAt(0);
  return `$${body}*${sum.toString(16).toUpperCase().padStart(2, "0")}\r\n`;
}

/** Degrees as ddmm.mmmmmm and the letter of their side. */
function angle(v, digits, [plus, minus]) {
  const all = Math.abs(v);
  const whole = Math.floor(all + 1e-12);
  const minutes = ((all - whole) * 60).toFixed(7).padStart(10, "0");
  return `${String(whole).padStart(digits, "0")}${minutes},${v < 0 ? minus : plus}`;
}

/** The sentences of one moment; `sigma` in metres makes a GST, `corrections` is their age in seconds. */
export function epoch([lon, lat], { quality = 4, sigma = 0, hdop = 0.8, time = new Date(), corrections = "" } = {}) {
  const clock = time.toISOString().slice(11, 22).replaceAll(":", "");
  const gga = sentence(`GNGGA,${clock},${angle(lat, 2, "NS")},${angle(lon, 3, "EW")},${quality},14,${hdop},20.0,M,0.0,M,${corrections},`);
  return gga + (sigma > 0 ? sentence(`GNGST,${clock},,,,,${sigma},${sigma},1.0`) : "");
}

const listening = (server) => new Promise((done) => server.listen(0, "127.0.0.1", () => done(server.address().port)));

/** A receiver on a TCP port of its own; `send` goes to whoever is connected. */
export async function makeReceiver() {
  let sockets = [];
  const server = createServer((s) => {
    sockets.push(s);
    s.on("error", () => undefined);
    s.on("close", () => { sockets = sockets.filter((x) => x !== s); });
  });
  const port = await listening(server);
  return {
    port,
    send: (text) => sockets.forEach((s) => s.write(text)),
    connected: async () => until("the laptop at the receiver", () => sockets.length > 0),
    close() {
      server.close();
      sockets.forEach((s) => s.destroy());
    },
  };
}

export async function until(what, is, ms = 20_000) {
  for (const began = Date.now(); ;) {
    if (await is()) return;
    want(Date.now() - began < ms, `never: ${what}`);
    await new Promise((done) => setTimeout(done, 100));
  }
}

/** Starts the field server; resolves with its port. */
export async function startServer(program, pack, address) {
  const child = spawn(program, ["serve", pack, "--listen", "127.0.0.1:0", "--position", address], { stdio: ["ignore", "pipe", "inherit"] });
  let said = "";
  child.stdout.on("data", (d) => { said += d; });
  await until("the field server’s address", () => /map: http:\/\/127\.0\.0\.1:\d+/.test(said));
  return { port: Number(/map: http:\/\/127\.0\.0\.1:(\d+)/.exec(said)[1]), said: () => said, stop: () => child.kill("SIGINT") };
}

/** Hands requests on to the field server. `streams` tells how many of events are open; `cut` ends all and lets none through. */
export async function makeGateway(port) {
  let streams = 0;
  let shut = false;
  const open = new Set();
  const server = httpServer((req, res) => {
    if (shut) return void req.socket.destroy();
    const stream = req.url === "/events";
    const up = request({ port, host: "127.0.0.1", path: req.url, method: req.method, headers: req.headers }, (answer) => {
      res.writeHead(answer.statusCode, answer.headers);
      answer.pipe(res);
    });
    up.on("error", () => res.destroy());
    if (stream) streams++;
    res.on("close", () => {
      if (stream) streams--;
      up.destroy();
    });
    req.pipe(up);
  });
  server.on("connection", (s) => {
    open.add(s);
    s.on("close", () => open.delete(s));
  });
  const at = await listening(server);
  return {
    href: `http://127.0.0.1:${at}/`,
    streams: () => streams,
    cut(on) {
      shut = on;
      if (on) open.forEach((s) => s.destroy());
    },
    close() {
      server.close();
      open.forEach((s) => s.destroy());
    },
  };
}
