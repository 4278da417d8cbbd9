// Settings in the local storage of this device. Where a browser has none, nothing is stored.

const prefix = "groundsheet ";

/** The value stored under a name, "" for none. */
export function getStored(name: string): string {
  try {
    return localStorage.getItem(prefix + name) ?? "";
  } catch {
    return "";
  }
}

/** Stores a value under a name. */
export function setStored(name: string, value: string): void {
  try {
    localStorage.setItem(prefix + name, value);
  } catch {
    // a private window or a full disk: the next visit starts without it
  }
}
