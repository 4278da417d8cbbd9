// What a camera says of a photo: when, where and in which direction it was taken (Exif 2.3, as far as that goes).

interface Taken {
  taken: string | null;
  direction_deg: number | null;
  lat: number | null;
  lon: number | null;
}

const nothing: Taken = { taken: null, direction_deg: null, lat: null, lon: null };

/** The facts of a JPEG; null for each that it does not state. Whatever is damaged states nothing. */
export function takenOf(jpeg: ArrayBuffer): Taken {
  try {
    const start = tiffStart(new DataView(jpeg));
    return start === 0 ? nothing : factsOf(new DataView(jpeg, start));
  } catch {
    return nothing;
  }
}

/** Where the Exif block of a JPEG begins; 0 for none. */
function tiffStart(v: DataView): number {
  if (v.getUint16(0) !== 0xffd8) return 0;
  for (let at = 2; at + 10 < v.byteLength && v.getUint8(at) === 0xff; at += 2 + v.getUint16(at + 2)) {
    if (v.getUint8(at + 1) === 0xe1 && v.getUint32(at + 4) === 0x45786966) return at + 10;
    if (v.getUint8(at + 1) === 0xda) return 0;
  }
  return 0;
}

type Tags = Map<number, { type: number; count: number; at: number }>;
const sizes: Record<number, number> = { 1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 7: 1, 9: 4, 10: 8 };
const mostTags = 200;

function factsOf(v: DataView): Taken {
  const little = v.getUint16(0) === 0x4949;
  const tagsAt = (at: number): Tags => {
    const tags: Tags = new Map();
    for (let i = 0, n = Math.min(v.getUint16(at, little), mostTags); i < n; i++) {
      const entry = at + 2 + i * 12;
      const [type, count] = [v.getUint16(entry + 2, little), v.getUint32(entry + 4, little)];
      const bytes = (sizes[type] ?? 1) * count;
      tags.set(v.getUint16(entry, little), { type, count, at: bytes > 4 ? v.getUint32(entry + 8, little) : entry + 8 });
    }
    return tags;
  };
  const text = (tags: Tags, tag: number): string => {
    const t = tags.get(tag);
    return t === undefined ? "" : Array.from({ length: Math.min(t.count, 40) }, (_, i) => String.fromCharCode(v.getUint8(t.at + i))).join("").replace(/\0.*$/s, "");
  };
  const ratio = (tags: Tags, tag: number, n = 0): number => {
    const t = tags.get(tag);
    return t === undefined || n >= t.count ? NaN : v.getUint32(t.at + 8 * n, little) / v.getUint32(t.at + 8 * n + 4, little);
  };
  const below = (tags: Tags, tag: number): Tags => {
    const t = tags.get(tag);
    return t === undefined ? new Map() : tagsAt(v.getUint32(t.at, little));
  };
  const main = tagsAt(v.getUint32(4, little));
  const [own, gps] = [below(main, 0x8769), below(main, 0x8825)];
  const degrees = (tag: number, minus: string): number | null => {
    const d = ratio(gps, tag) + ratio(gps, tag, 1) / 60 + ratio(gps, tag, 2) / 3600;
    return Number.isFinite(d) ? (text(gps, tag - 1) === minus ? -d : d) : null;
  };
  const [lat, lon, direction] = [degrees(2, "S"), degrees(4, "W"), ratio(gps, 17)];
  const inWorld = lat !== null && lon !== null && Math.abs(lat) <= 90 && Math.abs(lon) <= 180;
  const [, day, clock] = /^(\d{4}:\d{2}:\d{2}) (\d{2}:\d{2}:\d{2})/.exec(text(own, 0x9003) || text(main, 0x132)) ?? [];
  const zone = /^[+-]\d{2}:\d{2}$/.exec(text(own, 0x9011))?.[0] ?? "";
  return {
    taken: day === undefined ? null : `${day.replace(/:/g, "-")}T${clock}${zone}`,
    direction_deg: direction >= 0 && direction <= 360 ? direction : null,
    lat: inWorld ? lat : null, lon: inWorld ? lon : null,
  };
}
