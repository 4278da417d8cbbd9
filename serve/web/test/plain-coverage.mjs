// Which notified utilities nothing is recorded of: no record, and a record that shows nothing here.
import { load, table } from "./load.mjs";

const { coverageGaps } = await load("shared/records/coverage.ts");
const told = (expected_missing, expected_nothing_here) => {
  const { unrecorded, empty } = coverageGaps({ expected_missing, expected_nothing_here });
  return `${unrecorded.join(" ")} | ${empty.join(" ")}`;
};
table("gaps", [
  ["an empty gas record, no electric one", told(["gas", "electric"], ["gas"]), "electric | gas"],
  ["an older pack does not tell them apart", told(["gas"], undefined), "gas | "],
  ["null", told(["gas"], null), "gas | "],
  ["none", told([], []), " | "],
]);
