// Lets a browser trust the certificate of a field server. It needs certutil (Debian: libnss3-tools).
import { execFileSync } from "node:child_process";
import { mkdir, mkdtemp, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";

/** A home folder in which the browser trusts the certificate that plain HTTP gave. */
export async function trustingHome(server) {
  const home = await mkdtemp(join(tmpdir(), "groundsheet-home-"));
  const store = join(home, ".pki", "nssdb");
  await mkdir(store, { recursive: true });
  const der = await fetch(`${server.at.replace("https:", "http:")}/ca.crt`);
  await writeFile(join(home, "ca.crt"), Buffer.from(await der.arrayBuffer()));
  execFileSync("certutil", ["-d", `sql:${store}`, "-N", "--empty-password"]);
  execFileSync("certutil", ["-d", `sql:${store}`, "-A", "-t", "C,,", "-n", "field map", "-i", join(home, "ca.crt")]);
  return home;
}
