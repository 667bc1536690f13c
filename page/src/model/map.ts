/** A map that is being drawn: pictures, patterns and pads. Numbers in, numbers out; no DOM here. */

export interface Layer { key: string; side: string; width: number; height: number; name: string; how?: string; to_board: number[] }
export interface Land { number: string; x_mm: number; y_mm: number; width_mm: number; height_mm: number }
export interface Pattern { first: string; far: string; lands: Land[]; body: number[] }
export interface Spot { x: number; y: number }
export interface PinRow { pins: string[]; name: string; kind: string; words: string }
export interface PinTable { rows: PinRow[]; columns: string[]; column: number; unread: string[]; doubtful: string[] }

/** An affine map as [a, b, x, c, d, y]: (u, v) becomes (a u + b v + x, c u + d v + y). */
export type Affine = number[];
export function at(m: Affine, u: number, v: number): Spot {
  return { x: m[0]! * u + m[1]! * v + m[2]!, y: m[3]! * u + m[4]! * v + m[5]! };
}
export function inverse(m: Affine): Affine {
  const [a, b, x, c, d, y] = m as [number, number, number, number, number, number];
  const k = 1 / (a * d - b * c);
  return [d * k, -b * k, (b * y - d * x) * k, -c * k, a * k, (c * x - a * y) * k];
}
export function after(second: Affine, first: Affine): Affine {
  const [a, b, x, c, d, y] = second as [number, number, number, number, number, number];
  const [e, f, p, g, h, q] = first as [number, number, number, number, number, number];
  return [a * e + b * g, a * f + b * h, a * p + b * q + x, c * e + d * g, c * f + d * h, c * p + d * q + y];
}

/** The part of the board that a picture shows, in board millimetres. */
export function shown(layer: Layer): { x: number; y: number; width: number; height: number } {
  const corners = [[-0.5, -0.5], [layer.width - 0.5, -0.5], [-0.5, layer.height - 0.5], [layer.width - 0.5, layer.height - 0.5]].map(([u, v]) => at(layer.to_board, u!, v!));
  const xs = corners.map((p) => p.x), ys = corners.map((p) => p.y);
  const x = Math.min(...xs), y = Math.min(...ys);
  return { x, y, width: Math.max(...xs) - x, height: Math.max(...ys) - y };
}

/** Where the lands of a pattern come to lie when pin 1 and the far pin are at two points of a picture. */
export function seat(pattern: Pattern, first: Spot, far: Spot): { number: string; corners: Spot[] }[] {
  const a = pattern.lands.find((l) => l.number === pattern.first)!, b = pattern.lands.find((l) => l.number === pattern.far)!;
  const ux = b.x_mm - a.x_mm, uy = b.y_mm - a.y_mm, vx = far.x - first.x, vy = far.y - first.y, n = ux * ux + uy * uy;
  const c = (ux * vx + uy * vy) / n, s = (ux * vy - uy * vx) / n;
  const to = (x: number, y: number): Spot => ({ x: first.x + c * (x - a.x_mm) - s * (y - a.y_mm), y: first.y + s * (x - a.x_mm) + c * (y - a.y_mm) });
  return pattern.lands.map((l) => ({
    number: l.number,
    corners: [[-1, -1], [1, -1], [1, 1], [-1, 1]].map(([i, j]) => to(l.x_mm + (i! * l.width_mm) / 2, l.y_mm + (j! * l.height_mm) / 2)),
  }));
}

/** Two pads at the ends of a line, as the server lays them too. */
export const PAIR: Pattern = {
  first: "1", far: "2", body: [1.5, 0.62],
  lands: [{ number: "1", x_mm: -0.5, y_mm: 0, width_mm: 0.5, height_mm: 0.62 }, { number: "2", x_mm: 0.5, y_mm: 0, width_mm: 0.5, height_mm: 0.62 }],
};

export interface KindChoice { kind: string; words: string; key: string; package: string; count: number; first: string }
/** What one key or one press chooses. `package` is empty for two pads. */
export const CHOICES: KindChoice[] = [
  { kind: "capacitor", words: "Capacitor", key: "c", package: "", count: 2, first: "one pad" },
  { kind: "resistor", words: "Resistor", key: "r", package: "", count: 2, first: "one pad" },
  { kind: "coil", words: "Coil", key: "l", package: "", count: 2, first: "one pad" },
  { kind: "unknown-two-pads", words: "Two pads, unknown", key: "x", package: "", count: 2, first: "one pad" },
  { kind: "diode", words: "Diode", key: "d", package: "", count: 2, first: "the pad at the band (cathode)" },
  { kind: "fuse", words: "Fuse", key: "f", package: "", count: 2, first: "one pad" },
  { kind: "buck", words: "Buck regulator", key: "u", package: "SOIC", count: 8, first: "pin 1" },
  { kind: "ic", words: "Other chip", key: "i", package: "SOIC", count: 8, first: "pin 1" },
  { kind: "fet-n", words: "FET", key: "t", package: "SOT-23", count: 3, first: "pin 1" },
  { kind: "connector", words: "Connector", key: "p", package: "row", count: 2, first: "pin 1" },
];
/** The rest, by the list. */
export const MORE_KINDS: [string, string][] = [
  ["polymer", "Polymer or tantalum capacitor"], ["sense", "Sense resistor"], ["ferrite", "Ferrite bead"], ["link", "Link"], ["crystal", "Crystal"],
  ["schottky", "Schottky diode"], ["led", "LED"], ["tvs", "TVS, one-way"], ["tvs-two-way", "TVS, two-way"], ["esd", "ESD array"], ["fet-p", "P-channel FET"],
  ["linear", "Linear regulator"], ["load-switch", "Load switch"], ["charger", "Charger with power path"],
  ["boost", "Boost regulator"], ["buck-boost", "Buck-boost regulator"],
];
const MANY = new Set(["linear", "load-switch", "charger", "esd", "fet-p", "boost", "buck-boost"]);
export function choiceOf(kind: string): KindChoice {
  const words = MORE_KINDS.find(([name]) => name === kind)?.[1] ?? kind;
  const small = kind === "esd" || kind === "fet-p";
  return CHOICES.find((c) => c.kind === kind) ?? (MANY.has(kind)
    ? { kind, words, key: "", package: !small && (kind === "charger" || kind === "buck-boost") ? "QFN" : "SOT-23", count: small ? 3 : kind === "charger" || kind === "buck-boost" ? 24 : 5, first: "pin 1" }
    : { kind, words, key: "", package: "", count: 2, first: /diode|schottky|led|tvs$/.test(kind) ? "the pad at the band (cathode)" : "one pad" });
}
