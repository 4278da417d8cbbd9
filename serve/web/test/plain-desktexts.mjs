// Sizes and times of the desk are those of the command line (tiles/measure).
import { load, table } from "./load.mjs";

const { secondsText, sizeText } = await load("desk/plan/texts.ts");
table("times", [[0, "0 s"], [0.2, "1 s"], [59.6, "1 min"], [148.8, "2 min 29 s"], [3600, "1 h"], [3900, "1 h 5 min"], [100_000, "1 d 4 h"]].map(([s, text]) => [text, secondsText(s), text]));
table("sizes", [[0, "0 B"], [999, "999 B"], [12_660, "12.7 kB"], [1_240_000, "1.24 MB"], [2e9, "2 GB"]].map(([n, text]) => [text, sizeText(n), text]));
