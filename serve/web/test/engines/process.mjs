// Processes that a browser needs, and deadlines: nothing here lasts longer than the check that began it.
import { spawn } from "node:child_process";
import { createInterface } from "node:readline";

const running = new Set();
const signalAll = (pid, signal) => {
  try {
    process.kill(-pid, signal); // the process, and all that it started
  } catch {
    // they have ended
  }
};
process.on("exit", () => running.forEach((pid) => signalAll(pid, "SIGKILL")));
for (const signal of ["SIGINT", "SIGTERM", "SIGHUP"]) process.on(signal, () => process.exit(1));

/** What `work` gives, or an error that names it after `ms` milliseconds. */
export async function within(ms, what, work) {
  let timer;
  const late = new Promise((_, fail) => { timer = setTimeout(() => fail(new Error(`${what}: nothing for ${ms / 1000} s`)), ms); });
  try {
    return await Promise.race([work, late]);
  } finally {
    clearTimeout(timer);
  }
}

/**
 * Starts a program in a group of its own. `heard` gets each line that it says on either stream;
 * `says` waits for a line of a form; `end` stops it and all that it started.
 */
export function start(command, args, { env = process.env, heard = () => undefined } = {}) {
  const child = spawn(command, args, { env, detached: true, stdio: ["ignore", "pipe", "pipe"] });
  let last = "";
  const waiting = [];
  const ended = new Promise((done) => {
    child.on("error", (e) => done(e.message));
    child.on("exit", (code, signal) => done(`ended with ${code ?? signal}`));
  });
  if (child.pid !== undefined) running.add(child.pid);
  for (const stream of [child.stdout, child.stderr]) {
    createInterface({ input: stream }).on("line", (line) => {
      last = line;
      heard(line);
      for (const w of waiting) w(line);
    });
  }
  return {
    says: (form, ms = 30_000) => within(ms, `${command} does not say ${form}`, Promise.race([
      new Promise((done) => waiting.push((line) => { if (form.test(line)) done(form.exec(line)); })),
      ended.then((how) => { throw new Error(`${command} ${how}: ${last}`); }),
    ])),
    async end() {
      if (child.pid === undefined) return;
      signalAll(child.pid, "SIGTERM");
      await within(3_000, command, ended).catch(() => undefined);
      signalAll(child.pid, "SIGKILL");
      running.delete(child.pid);
    },
  };
}
