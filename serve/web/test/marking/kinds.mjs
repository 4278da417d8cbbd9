// Marks that are no readings: a surface feature says what it is, nothing found beside a reading is asked about once, and a line and
// an area are taken point by point at the cross.
import { inEngines, want } from "./harness.mjs";

await inEngines("what a surface feature is, nothing found beside a reading, a line and an area by points", async ({ field, phone }) => {
  const one = await phone();
  await one.join();
  await one.pad();
  await one.depth(["4", "0"]);
  await one.keep();
  // Nothing found there: asked once.
  const rest = () => new Promise((done) => setTimeout(done, 900)); // a second press right after is none
  await rest();
  await one.choose("kind", "Nothing found here");
  const asked = await one.keep();
  want(/^A reading of this utility is within 3′ 3″ of here/.test(asked), asked);
  await one.shot("nothing-beside");
  await rest();
  const all = await one.keep();
  want(/^Water nothing found here · on/.test(all), all);
  await rest();
  // A surface feature says what it is.
  await one.move(60, 0);
  await one.press("#pad-kind");
  await one.press(".mark-choices button", "Surface feature");
  await one.until("what it may be", () => /Valve/.test(document.querySelector(".mark-choices")?.textContent ?? ""));
  await one.shot("surface");
  await one.press("#sheet-close");
  const refused = await one.keep();
  want(/^Say what it is, such as a valve: press More/.test(refused), refused);
  await one.press("#pad-kind");
  await one.press(".mark-choices button", "Surface feature");
  await one.press(".mark-choices button", "Marker post");
  await one.until("the pad says it", () => /^Marker post/.test(document.getElementById("pad-kind").textContent));
  const post = await one.keep();
  want(/^Water surface feature · on/.test(post), post);
  // A line and an area, point by point.
  for (const [kind, least, wanted] of [["Line", 2, "LineString"], ["Area", 3, "Polygon"]]) {
    await rest();
    await one.choose("kind", kind);
    await one.press("#pad-take");
    const few = await one.keep();
    want(new RegExp(`^An? ${kind.toLowerCase()} needs`).test(few), few);
    for (let n = 1; n < least + 1; n++) {
      await one.move(n % 2 === 1 ? 40 : 0, n % 2 === 1 ? 0 : 40);
      await one.press("#pad-take");
    }
    want(new RegExp(`^${least + 1} points`).test(await one.text("#pad-at")), await one.text("#pad-at"));
    await one.shot(kind.toLowerCase());
    const told = await one.keep();
    want(new RegExp(`^Water ${kind.toLowerCase()} · on`).test(told), told);
    await one.until("confirmed", () => /on the hotspot/.test(document.querySelector(".pad-told p").textContent));
    const { geometry, properties } = (await field.book()).at(-1).feature;
    const corners = wanted === "Polygon" ? geometry.coordinates[0] : geometry.coordinates;
    want(geometry.type === wanted && corners.length === least + (wanted === "Polygon" ? 2 : 1), JSON.stringify(geometry));
    want(properties.kind === kind.toLowerCase() && properties.position.from === "cross" && properties.position.error_m === null, JSON.stringify(properties));
  }
  // Where depths find no room, a test hole says as a reading does that its depth is not written: dots under its middle.
  await rest();
  await one.move(70, -70);
  await one.choose("kind", "Test hole");
  await one.depth(["5", "0"]);
  const hole = await one.keep();
  want(/^Water test hole .* on/.test(hole), hole);
  await one.press("#pad-done");
  const signed = await one.browser.ev(() => {
    const { map } = window.groundsheet;
    const of = (l, kind) => l.getSource()?.getFeatures?.().find((f) => String(f.get("look")).startsWith(`${kind}|`));
    const depths = map.getAllLayers().find((l) => l.getZIndex() === 33 && of(l, "test hole"));
    // A copy has no place for its depth: nobody looked for one.
    return ["reading", "test hole", "surface feature"].map((kind) => depths.getStyleFunction()(of(depths, kind).clone(), map.getView().getResolution()) !== undefined);
  });
  want(JSON.stringify(signed) === "[true,true,false]", JSON.stringify(signed));
  const book = await field.book();
  want(book[2].feature.properties.label === "marker post" && book[1].feature.properties.kind === "nothing found", JSON.stringify(book.slice(1, 3)));
}, { engines: ["chromium"] });
