// Starts the field server itself, with a config folder of its own, and reads what it
// says on the terminal.
import { spawn } from "node:child_process";

/** Runs serve with a pack, or several; gives the address and the codes it said, all of its words, and `stop`. */
export async function startServer(program, packs, config, ...more) {
  const child = spawn(program, ["serve", ...[packs].flat(), "--listen", "127.0.0.1:0", "--always-ask", ...more], {
    env: { ...process.env, XDG_CONFIG_HOME: config, HOME: config }, stdio: ["ignore", "pipe", "inherit"],
  });
  let words = "";
  await new Promise((done, fail) => {
    const late = setTimeout(() => fail(new Error(`the field server does not begin: ${words}`)), 60_000);
    child.stdout.on("data", (b) => {
      words += b;
      if (!words.includes("does not replace the one-call marks")) return;
      clearTimeout(late);
      done();
    });
    child.on("exit", (code) => fail(new Error(`the field server ended with ${code}: ${words}`)));
  });
  const find = (pattern) => pattern.exec(words)?.[1] ?? "";
  return {
    words,
    at: find(/^map: (https?:\/\/\S+)\/(?: \(.+\))?$/m),
    code: find(/^join code: (\w[\w ]*)$/m),
    link: find(/^join link: (\S+)$/m),
    fingerprint: (/fingerprint:\n((?: +[0-9A-F:]+\n)+)/.exec(words)?.[1] ?? "").replace(/\s/g, ""),
    stop: () => new Promise((done) => {
      child.removeAllListeners("exit");
      if (child.exitCode !== null || child.signalCode !== null) return done();
      child.on("exit", done);
      child.kill("SIGINT");
    }),
  };
}
