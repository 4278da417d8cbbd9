// Who marks on this phone: a name that is asked for once, and an ID that is made once.
import { getStored, setStored } from "../../shared/lib/storage";
import { newId, type Writer } from "./entry";

const [nameKey, phoneKey] = ["marks-by", "marks-phone"];
let phone = "";

/** The name of who marks; "" before it was told. */
export const writerName = (): string => getStored(nameKey);

/** Keeps it, at most 80 characters. */
export const setWriterName = (name: string): void => setStored(nameKey, name.trim().slice(0, 80));

/** Who writes now; `ahead` is this device's clock minus the laptop's, in milliseconds. */
export function writerNow(ahead: number | null): Writer {
  if (phone === "") phone = getStored(phoneKey);
  if (!/^[0-9a-f]{32}$/.test(phone)) {
    phone = newId();
    setStored(phoneKey, phone);
  }
  return { who: writerName(), phone, ahead };
}
