// Small things this device remembers from one visit to the next. Where a
// browser keeps nothing, nothing is remembered, and nothing else is amiss.

const prefix = "groundsheet ";

/** What was kept under a name, "" for nothing. */
export function getStored(name: string): string {
  try {
    return localStorage.getItem(prefix + name) ?? "";
  } catch {
    return "";
  }
}

/** Keeps a text under a name. */
export function setStored(name: string, value: string): void {
  try {
    localStorage.setItem(prefix + name, value);
  } catch {
    // a private window, or a full disk: the next visit begins anew
  }
}
