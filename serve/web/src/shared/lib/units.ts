// Numbers as text, each with its unit.

export type Units = "us" | "metric";

/** The international foot and inch in meters (exact since 1959). */
export const inch = 0.0254;
export const foot = 12 * inch;
export const mile = 5280 * foot;

/** A depth, or what a tape reads: feet and inches to the inch ("3′ 5″"), or meters to the centimeter. */
export function depthText(metres: number, units: Units): string {
  if (units === "metric") return `${metres.toFixed(2)} m`;
  const all = Math.round(Math.abs(metres) / inch);
  const sign = metres < 0 && all > 0 ? "−" : "";
  const ft = Math.floor(all / 12);
  return sign + (ft > 0 ? `${ft}′ ${all % 12}″` : `${all}″`);
}

/** A length or an accuracy: "2.2 in", feet and inches as depths have them ("7′ 4″"), "16 ft"; "60 cm", "1.2 m". */
export function lengthText(metres: number, units: Units): string {
  const inches = Math.round(metres / inch);
  return units === "us" && metres > foot - 1e-9 && inches < 120 ? depthText(metres, units) : decimalText(metres, units);
}

/** A length in one unit: "24 in", "4.9 ft", "60 cm", "1.2 m". */
function decimalText(metres: number, units: Units): string {
  if (units === "us") {
    return metres < 3 * foot - 1e-9 ? `${digits(metres / inch, 2)} in` : `${digits(metres / foot, 2)} ft`;
  }
  return metres < 1 ? `${digits(metres * 100, 2)} cm` : `${digits(metres, 2)} m`;
}

/** A frequency as receivers show it: "512 Hz", "8.192 kHz", "33 kHz". */
export function frequencyText(hertz: number): string {
  const shown = (v: number) => v.toLocaleString("en", { maximumFractionDigits: 6 });
  return Math.abs(hertz) < 1000 ? `${shown(hertz)} Hz` : `${shown(hertz / 1000)} kHz`;
}

/** The size of a pixel on the ground, to two digits: "2.3 in", "5.7 cm". */
export function pixelText(metres: number, units: Units): string {
  if (units === "us") return decimalText(metres, units);
  return metres < 0.01 ? `${digits(metres * 1000, 2)} mm` : lengthText(metres, units);
}

/** A distance to two digits: "350 ft", "2.3 mi". */
export function distanceText(metres: number, units: Units): string {
  const [unit, name] = units === "metric" ? (metres < 1000 ? [1, "m"] : [1000, "km"] as const) : metres < mile ? [foot, "ft"] : [mile, "mi"];
  return `${Number((metres / Number(unit)).toPrecision(2)).toLocaleString("en")} ${name}`;
}

/** A distance to two digits, rounded up: a stated error is never smaller than the real one. */
export function roundedUpText(metres: number, units: Units): string {
  const [name, unit] = units === "us" ? (metres < 3 * foot ? ["in", inch] as const : ["ft", foot] as const)
    : (metres < 1 ? ["cm", 0.01] as const : ["m", 1] as const);
  const v = metres / unit;
  const step = 10 ** Math.max(Math.floor(Math.log10(v)) - 1, -1);
  return `${Number((Math.ceil(v / step - 1e-6) * step).toPrecision(6))} ${name}`;
}

/** At least n significant digits, without trailing zeros or exponent. */
function digits(v: number, n: number): string {
  if (v === 0) return "0";
  const places = Math.max(0, n - 1 - Math.floor(Math.log10(Math.abs(v))));
  return String(Number(v.toFixed(Math.min(places, 6))));
}

const usSteps = [
  ...[1, 2, 4, 8].map((n) => ({ metres: n * inch, text: `${n} in` })),
  ...[1, 2, 4, 8, 20, 40, 80, 200, 400, 1000, 2000].map((n) => ({ metres: n * foot, text: `${n} ft` })),
  ...[1, 2, 4, 8, 20, 40, 80].map((n) => ({ metres: n * mile, text: `${n} mi` })),
];

const metricSteps = [
  ...[1, 2, 4, 10, 20, 40].map((n) => ({ metres: n / 100, text: `${n} cm` })),
  ...[1, 2, 4, 10, 20, 40, 100, 200, 400].map((n) => ({ metres: n, text: `${n} m` })),
  ...[1, 2, 4, 10, 20, 40, 100].map((n) => ({ metres: n * 1000, text: `${n} km` })),
];

/** The longest round length that fits in `maxWidth` pixels, at a ground resolution in meters per pixel. */
export function scaleBar(resolution: number, maxWidth: number, units: Units): { width: number; text: string } {
  const steps = units === "us" ? usSteps : metricSteps;
  const best = steps.filter((s) => s.metres / resolution <= maxWidth).pop() ?? steps[0];
  return { width: (best?.metres ?? 0) / resolution, text: best?.text ?? "" };
}
