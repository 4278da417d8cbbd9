// Pictures for README.md, small.
import { writeFile } from "node:fs/promises";
import { basename } from "node:path";

/** A WebP of at most so many bytes, as good as that allows. */
export async function small(target, context, path, largest) {
  const blank = await context.newPage(); // without the page's own policy
  const png = (await target.screenshot()).toString("base64");
  for (let quality = 0.9; quality >= 0.3; quality -= 0.05) {
    const coded = await blank.evaluate(async ([text, q]) => {
      const image = new Image();
      image.src = `data:image/png;base64,${text}`;
      await image.decode();
      const canvas = Object.assign(document.createElement("canvas"), { width: image.width, height: image.height });
      canvas.getContext("2d").drawImage(image, 0, 0);
      return canvas.toDataURL("image/webp", q).split(",")[1];
    }, [png, quality]);
    const picture = Buffer.from(coded, "base64");
    if (picture.length > largest) continue;
    await writeFile(path, picture);
    console.log(`${basename(path)}: ${picture.length} bytes at quality ${quality.toFixed(2)}`);
    return;
  }
  throw new Error(`${path} is larger than ${largest} bytes at any quality`);
}
