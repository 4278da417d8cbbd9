// Sizes and times as the command line says them.

/** Bytes in the unit that fits: "784 kB", "1.24 MB". */
export function sizeText(bytes: number): string {
  for (const [of, name] of [[1e12, "TB"], [1e9, "GB"], [1e6, "MB"], [1e3, "kB"]] as const) {
    if (bytes >= of) return `${Number((bytes / of).toPrecision(3))} ${name}`;
  }
  return `${bytes} B`;
}

/** A span of time in the two units that matter: "8 s", "2 min 30 s", "1 h 5 min", "3 d 4 h". */
export function secondsText(seconds: number): string {
  let s = Math.max(Math.round(seconds), seconds > 0 ? 1 : 0);
  for (const [large, name, small, less] of [[86400, "d", 3600, "h"], [3600, "h", 60, "min"], [60, "min", 1, "s"]] as const) {
    if (s < large) continue;
    s = Math.round(s / small);
    const [n, rest] = [Math.floor(s / (large / small)), s % (large / small)];
    return rest === 0 ? `${n} ${name}` : `${n} ${name} ${rest} ${less}`;
  }
  return `${s} s`;
}
