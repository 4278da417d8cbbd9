// Stands between the browser and a field server, so that a check can cut the
// line, set the laptop's clock, or exchange the pack under the page.
import http from "node:http";
import { once } from "node:events";

export async function between(site) {
  const state = { version: "", gone: false, clockMs: 0, asked: [] };
  let sockets = new Set();
  const server = http.createServer((q, s) => {
    state.asked.push(q.url);
    const to = http.request({ host: site.hostname, port: site.port, path: q.url, method: q.method, headers: { ...q.headers, "accept-encoding": "identity" } }, (a) => {
      const parts = [];
      a.on("data", (d) => parts.push(d));
      a.on("end", () => answer(s, a, Buffer.concat(parts), q.url));
    });
    to.on("error", () => s.destroy());
    q.pipe(to);
  });
  function answer(s, a, body, path) {
    const headers = { ...a.headers, date: new Date(Date.now() + state.clockMs).toUTCString() };
    if (state.version !== "" && headers["groundsheet-pack"]) headers["groundsheet-pack"] = state.version;
    if (state.version !== "" && path === "/packs.json") {
      const list = JSON.parse(body);
      for (const p of list.packs) p.version = state.version;
      body = Buffer.from(JSON.stringify(list));
      delete headers.etag;
    }
    if (state.gone && path === "/packs.json") {
      body = Buffer.from('{"packs":[]}');
      delete headers.etag;
    }
    s.writeHead(a.statusCode, { ...headers, "content-length": body.length });
    s.end(body);
  }
  server.on("connection", (c) => {
    sockets.add(c);
    c.on("close", () => sockets.delete(c));
  });
  server.listen(0, "127.0.0.1");
  await once(server, "listening");
  const { port } = server.address();
  return {
    url: new URL(`http://127.0.0.1:${port}/`),
    state,
    async cut() {
      const closed = once(server, "close");
      server.close();
      for (const c of sockets) c.destroy();
      await closed;
    },
    async restore() {
      server.listen(port, "127.0.0.1");
      await once(server, "listening");
    },
  };
}
