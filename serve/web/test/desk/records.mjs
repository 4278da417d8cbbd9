// Files of records are dropped, looked at, answered and taken in:  node test/desk/records.mjs [--shots DIR]
// A table in feet of UTM, a KML, a zipped shapefile, and a table of which six rows cannot be read; what
// the page writes is read back by the command line.
import { readFile, writeFile } from "node:fs/promises";
import { crc32, deflateRawSync } from "node:zlib";
import { join } from "node:path";
import { parseArgs } from "node:util";
import { check, settled, tally, want } from "../harness.mjs";
import { openDesk, run, startDesk, tempFolder } from "./harness.mjs";

const { values: { shots } } = parseArgs({ options: { shots: { type: "string" } } });
const folder = await tempFolder();
const home = join(folder.dir, "home");
const jobs = join(folder.dir, "jobs");
const site = join(jobs, "valve");
const made = await run(home, "new", site, "--name", "Valve 12", "--around", "40.0123,-105.0456", "--radius", "300ft", "--source", "practice");
if (made.code !== 0) throw new Error(made.out);
const text = await readFile(join(site, "job.toml"), "utf8");
await writeFile(join(site, "job.toml"), text.replace('number = ""', 'number = "24-117" # as on the ticket\nexpected = ["gas", "water", "electric"]'));

const feet = (e, n) => `${(e / (1200 / 3937)).toFixed(2)},${(n / (1200 / 3937)).toFixed(2)}`;
const water = ["Point,Easting (ft),Northing (ft),Depth,Line", ...Array.from({ length: 12 }, (_, i) => `${i + 1},${feet(496090 + i * 3, 4429120 + i * 3)},${(3.2 + i / 10).toFixed(1)},W-1`)].join("\n");
const rows = Array.from({ length: 20 }, (_, i) => `${(40.01205 + i * 2e-5).toFixed(7)},${(-105.0459 + i * 3e-5).toFixed(7)},${36 + i},sanitary`);
for (const [i, bad] of [[2, "n/a,-105.0456,40,sanitary"], [5, "40.0123,x,40,sanitary"], [7, "40.0123,-105.0456,deep,sanitary"], [11, "40.0123,-105.0456,3-4,sanitary"], [13, "40.0123"], [17, "140.0123,-105.0456,40,sanitary"]]) rows[i] = bad;
const sewer = ["Latitude (WGS84),Longitude (WGS84),Depth (in),Type", ...rows].join("\n");
const kml = `<?xml version="1.0" encoding="UTF-8"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document><Folder><name>Gas mains</name><Placemark><name>G-1</name>
<LineString><coordinates>-105.0462,40.0122 -105.0450,40.0125</coordinates></LineString></Placemark></Folder></Document></kml>`;

/** A zip of files. */
function zip(files) {
  const [parts, central] = [[], []];
  let at = 0;
  for (const [name, data] of files) {
    const packed = deflateRawSync(data);
    const head = Buffer.alloc(30 + name.length);
    head.writeUInt32LE(0x04034b50, 0);
    head.writeUInt16LE(20, 4);
    head.writeUInt16LE(8, 8);
    head.writeUInt32LE(crc32(data), 14);
    head.writeUInt32LE(packed.length, 18);
    head.writeUInt32LE(data.length, 22);
    head.writeUInt16LE(name.length, 26);
    head.write(name, 30);
    const entry = Buffer.alloc(46 + name.length);
    entry.writeUInt32LE(0x02014b50, 0);
    entry.writeUInt16LE(20, 4);
    entry.writeUInt16LE(20, 6);
    head.copy(entry, 8, 6, 28);
    entry.writeUInt16LE(name.length, 28);
    entry.writeUInt32LE(at, 42);
    entry.write(name, 46);
    central.push(entry);
    parts.push(head, packed);
    at += head.length + packed.length;
  }
  const size = central.reduce((n, e) => n + e.length, 0);
  const end = Buffer.alloc(22);
  end.writeUInt32LE(0x06054b50, 0);
  end.writeUInt16LE(central.length, 8);
  end.writeUInt16LE(central.length, 10);
  end.writeUInt32LE(size, 12);
  end.writeUInt32LE(at, 16);
  return Buffer.concat([...parts, ...central, end]);
}

/** A shapefile of one line in degrees on WGS 84. */
function shapefile(points) {
  const content = Buffer.alloc(44 + 4 + points.length * 16);
  content.writeInt32LE(3, 0);
  const xs = points.map((p) => p[0]), ys = points.map((p) => p[1]);
  [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)].forEach((v, i) => content.writeDoubleLE(v, 4 + i * 8));
  content.writeInt32LE(1, 36);
  content.writeInt32LE(points.length, 40);
  content.writeInt32LE(0, 44);
  points.forEach(([x, y], i) => {
    content.writeDoubleLE(x, 48 + i * 16);
    content.writeDoubleLE(y, 56 + i * 16);
  });
  const head = Buffer.alloc(108);
  head.writeInt32BE(9994, 0);
  head.writeInt32BE((108 + content.length) / 2, 24);
  head.writeInt32LE(1000, 28);
  head.writeInt32LE(3, 32);
  content.copy(head, 36, 4, 36);
  head.writeInt32BE(1, 100);
  head.writeInt32BE(content.length / 2, 104);
  return Buffer.concat([head, content]);
}
const prj = 'GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137.0,298.257223563]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]';
const power = zip([["power_lines.shp", shapefile([[-105.0461, 40.0128], [-105.0452, 40.0118]])], ["power_lines.prj", Buffer.from(prj)]]);

const desk = await startDesk({ folders: [jobs], home });
const { page, complaints, strangers, close } = await openDesk(desk);
const dialog = page.locator("dialog.proposal");
const item = (key) => dialog.locator(`[data-item="${key}"]`);
const answer = async (key, value) => {
  const turn = page.waitForResponse((r) => r.url().endsWith("/records/propose"));
  await item(key).locator("select, input").first().evaluate((e, v) => {
    e.value = v;
    e.dispatchEvent(new Event("change", { bubbles: true }));
  }, value);
  await turn;
};
/** Drops a file on the map as a hand does. */
const drop = async (name, data, on = "#stage") => {
  await page.locator(on).evaluate((e, [name, bytes]) => {
    const transfer = new DataTransfer();
    transfer.items.add(new File([Uint8Array.from(bytes)], name));
    for (const type of ["dragenter", "dragover", "drop"]) e.dispatchEvent(new DragEvent(type, { dataTransfer: transfer, bubbles: true, cancelable: true }));
  }, [name, [...Buffer.from(data)]]);
  await dialog.waitFor();
};
const add = async () => {
  await dialog.locator("button.main").click();
  await dialog.waitFor({ state: "detached" });
};
const shoot = async (name) => {
  if (shots) {
    await settled(page);
    await page.screenshot({ path: join(shots, `${name}.png`) });
  }
};
const records = page.locator("#panel-recorded");
const words = async (l) => (await l.innerText()).replace(/\s+/g, " ");

await check("utilities that were notified and have no record are told", async () => {
  await page.locator("#jobs .job").first().click();
  await records.locator(".missing").nth(2).waitFor();
  want(await records.locator(".missing").count() === 3, await words(records));
});
await check("a table in feet of UTM: what is not stated is asked, and it is on the map before it is added", async () => {
  const before = await readFile(join(site, "job.toml"), "utf8");
  await drop("water readings.csv", water);
  want(await dialog.locator("button.main").isDisabled(), "it can be added at once");
  want(await item("utility").locator("select").inputValue() === "water", "the file's name is not seen");
  want(await item("utm_zone").locator("select").inputValue() === "13N", "the zone is not found");
  want((await words(item("coordinates_in"))).includes("29.1 ft apart"), await words(item("coordinates_in")));
  await answer("coordinates_in", "us survey ft");
  await answer("units.depth", "ft");
  await page.waitForFunction(() => window.groundsheet.map.getLayers().getArray().flatMap((l) => l.getSource?.()?.getFeatures?.() ?? []).filter((f) => f.get("depth_m")).length >= 12);
  await shoot("records-feet");
  await answer("datum", "not known");
  want(await readFile(join(site, "job.toml"), "utf8") === before, "something was written");
  await add();
  await records.locator(".one").first().waitFor();
  want((await words(records.locator(".one").first())).includes("12 readings") || (await words(records.locator(".one").first())).includes("12 lines"), await words(records));
  want(await records.locator(".missing").count() === 2, await words(records));
});
await check("a KML: its folder says the utility, which is confirmed", async () => {
  await drop("export.kml", kml, "#panel-recorded");
  want(await item("utility").locator("select").inputValue() === "gas", await words(dialog));
  await answer("recorded", "2011");
  await add();
  await records.locator(".one").nth(1).waitFor();
});
await check("a zipped shapefile", async () => {
  await drop("lines.zip", power);
  want(await item("utility").locator("select").inputValue() === "electric", await words(dialog));
  want((await words(item("datum"))).includes("WGS 84"), await words(item("datum")));
  await add();
  await records.locator(".one").nth(2).waitFor();
  want(await records.locator(".missing").count() === 0, await words(records));
});
await check("six rows that cannot be read are listed, each with its line and reason, and left out with them", async () => {
  await drop("manholes.csv", sewer);
  const lines = dialog.locator(".unread li");
  want(await lines.count() === 6, await words(dialog));
  want((await words(lines.first())).startsWith("line 4:"), await words(lines.first()));
  await answer("unread", "leave out");
  await shoot("records-unread");
  await add();
  await records.locator(".one").nth(3).waitFor();
  want((await words(records.locator(".one").nth(3))).includes("6 rows left out"), await words(records));
});
await check("the command line reads what the page wrote, and nothing else was changed", async () => {
  const job = await readFile(join(site, "job.toml"), "utf8");
  want(job.includes('number = "24-117" # as on the ticket') && job.split("[[overlay]]").length === 5, job);
  want(await readFile(join(site, "overlays", "water readings.csv"), "utf8") === water, "the copy differs");
  const { code, out } = await run(home, "plan", site);
  want(code === 0, out);
  want((out.match(/left out by the map manager/g) ?? []).length === 6, out);
});
await check("a record is taken out after asking; its file stays", async () => {
  await records.locator(".one").nth(2).locator("button", { hasText: "remove" }).click();
  await page.locator("dialog button", { hasText: "Take it out" }).click();
  await page.waitForFunction(() => document.querySelectorAll("#panel-recorded .one").length === 3);
  want(await records.locator(".missing").count() === 1, await words(records));
  want((await readFile(join(site, "overlays", "lines.zip"))).equals(power), "the file is gone");
  const { code, out } = await run(home, "plan", site);
  want(code === 0, out);
});
await check("what cannot be read says why, and nothing is written", async () => {
  const before = await readFile(join(site, "job.toml"), "utf8");
  await drop("broken.geojson", '{"type": "FeatureCollection", "features": [');
  want(await dialog.locator("button.main").isDisabled(), "it can be added");
  want(await dialog.locator("p.no").count() === 1, await words(dialog));
  await page.keyboard.press("Escape");
  await dialog.waitFor({ state: "detached" });
  want(await readFile(join(site, "job.toml"), "utf8") === before, "something was written");
});
await shoot("records-panel");
await check("nothing is complained of, and nobody else is asked", async () => {
  want(complaints.length === 0, complaints.join(" | "));
  want(strangers.length === 0, strangers.join(" "));
});
await close();
await desk.stop();
await folder.remove();
process.exit(tally.failed > 0 ? 1 : 0);
