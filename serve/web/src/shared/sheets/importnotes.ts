// What the map manager did to a record before it was packed: rows left out, a datum shift.
import type { Overlay } from "../lib/api";
import { say } from "../lib/words";

/** The most rows that are listed one by one. */
const maxRows = 10;

/** The rows of a record that were left out, and why; "" for none. */
export function leftOutText(o: Pick<Overlay, "title" | "left_out">): string {
  const rows = o.left_out ?? [];
  if (rows.length === 0) return "";
  const each = rows.slice(0, maxRows).map((r) => say("leftout.row", { line: r.line, why: r.why }));
  if (rows.length > maxRows) each.push(say("leftout.more", { n: rows.length - maxRows }));
  return say("leftout.rows", { n: rows.length, record: o.title, rows: each.join("; ") });
}

/** The datum of a record, stated or shifted; "" where only the format of its file implies one. */
export function datumText(o: Pick<Overlay, "datum">): string {
  const datum = o.datum ?? "";
  return datum === "" || datum === say("datum.by_format", { datum: "WGS 84" }) ? "" : say("datum.of_record", { datum });
}
