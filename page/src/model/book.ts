/** What the server says of the part book. Names and units are those of the Python values. */

export interface Box { x0: number; y0: number; x1: number; y1: number }
export interface At { page: number; box: Box }
export interface SheetRow { pins: string[]; name: string; kind: string; words: string }
export interface PinsFound { package: string; rows: SheetRow[]; at: At; doubts: string[]; places: At[] }
export interface Rated { sort: "absolute" | "recommended"; parameter: string; low: number | null; typical: number | null; high: number | null; unit: string; at: At }
export interface Figure { at: At; words: string; box: Box; pins: [string, Box][]; parts: [string, Box][] }
export interface Sheet {
  file: string; pages: number; pins: PinsFound[]; ratings: Rated[]; circuits: Figure[]; bodies: [string, number][]; notes: string[]; sizes: [number, number, number][];
}
export interface Spot { page: number; name: string; x: number; y: number; role: string }
export interface Paper { key: string; name: string; sheet: Sheet; spots: Spot[] }
export interface FoundPart { name: string; source: string; score: number; description: string; footprint: string; pins: Record<string, string> }
export interface Libraries { state: string; count: number; parts: number; pinouts: number; lands: number; words: string }
export interface Limits { sort: string; parameter: string; low: number | null; typical: number | null; high: number | null; unit: string; page: number }
export interface AtHand { name: string; where: string; kind: string; properties: [string, string][] }
export interface BookState { libraries: Libraries; stock: AtHand[] }
export interface CircuitPoint { name: string; words: string; nets: string[]; pins: { number: string; name: string }[] }
export interface Holder { part: string; share: number; marked: boolean }
export interface CircuitPlace {
  role: string; between: string[]; kind: string; present: number; value: string; shorted: string; opened: string; source: string; parts: Holder[];
}
export interface Neighbour {
  part: string; chip: string; marked: boolean; says: string; role: string; chance: number; shorted: string; opened: string; source: string;
  kinds: [string, number][]; others: [string, number][]; nets: string[]; look: string; joined: boolean | null;
}
export interface Around {
  chip: string; known: boolean; families: { name: string; words: string; probability: number }[]; points: CircuitPoint[]; places: CircuitPlace[];
  parts: Neighbour[]; contradictions: { part: string; text: string; look: string }[]; inside: { words: string; ends: string[]; test: string; drop: number[] | null }[];
}
export interface Need { property: string; must: string; why: string; source: string; least: number | null; most: number | null }
export interface Replacement {
  part: string; kind: string; kind_words: string; must: Need[]; may: string[]; cautions: string[];
  given: { name: string; value: string; source: string }[];
  at_hand: { candidate: { name: string; where: string }; fails: string[]; unknown: string[]; usable: boolean; pins: string[]; pins_compared: boolean }[];
}

/** How an unmarked part may look, in the server's word and in ours. */
export const LOOKS: [string, string][] = [
  ["plain-tan", "tan, no print"], ["black-printed", "black, printed"], ["black-plain", "black, no print"], ["grey-block", "grey block"], ["wound", "wire to be seen"],
  ["barred", "bar at one end"], ["can", "metal can"], ["clear", "clear or glass"], ["white", "white"], ["ringed", "colour rings"],
];
export const KIND_WORDS: Record<string, string> = {
  capacitor: "capacitor", polymer: "polymer or tantalum", resistor: "resistor", sense: "sense resistor", coil: "coil", ferrite: "ferrite", diode: "diode",
  schottky: "Schottky diode", led: "LED", tvs: "clamp diode", "tvs-two-way": "two-way clamp", crystal: "crystal", fuse: "fuse", link: "link", "fet-n": "N-channel FET", "fet-p": "P-channel FET",
};
export function share(p: number): string {
  return p >= 0.995 ? "over 99 %" : p < 0.01 ? "under 1 %" : `${Math.round(p * 100)} %`;
}
/** A pin's name without bars, marks and case. */
export function bare(name: string): string {
  return name.toUpperCase().replace(/~\{?|\}/g, "").replace(/[^A-Z0-9+\-/]/g, "");
}
export function amount(r: { low: number | null; typical: number | null; high: number | null; unit: string }): string {
  const ends = [r.low, r.typical, r.high].map((v) => (v === null ? "–" : String(v)));
  return `${ends.join(" / ")} ${r.unit}`.trim();
}

/** What a part on a drawing stands for, going by the letters of its name; "" where they do not tell. */
export function roleByName(label: string, places: CircuitPlace[]): string {
  const tails: [RegExp, RegExp][] = [
    [/^C_?(BST|BOOT|B)\d?$/, /boot cap/], [/^R_?(BST|BOOT)\d?$/, /boot res/], [/^C_?IN\d?$/, /^input cap/], [/^C_?OUT?\d?$/, /^output cap/], [/^C_?SS\d?$/, /soft-start/],
    [/^C_?FF\d?$/, /feed-forward/], [/^C_?(VCC|REG|VDD)\d?$/, /inner supply/], [/^R_?(FBT|T|TOP)\d?$/, /divider, upper/], [/^R_?(FBB|B|BOT)\d?$/, /divider, lower/],
    [/^R_?(SNS|S|SENSE)\d?$/, /sense/], [/^R_?(ILIM|LIM)\d?$/, /limit/], [/^R_?(PG|PGOOD)\d?$/, /power-good/], [/^R_?EN\d?$/, /enable/], [/^L_?\d?$/, /coil/],
  ];
  for (const [name, role] of tails) {
    const fit = name.test(label.toUpperCase()) ? places.filter((p) => role.test(p.role)) : [];
    if (fit.length === 1) return fit[0]!.role;
  }
  return "";
}
