/** A typical circuit as a ladder: a row for each point, parts between the rows. Numbers in, numbers out; no DOM here. */
import type { Around, CircuitPlace, CircuitPoint } from "./book";

export interface Rung { place: CircuitPlace; x: number; top: number; foot: number; ground: boolean }
export interface Row { point: CircuitPoint; y: number; from: number; to: number }
export interface Ladder { rows: Row[]; rungs: Rung[]; width: number; height: number; chip: { x: number; y: number; width: number; height: number } }

const ORDER = ["#rail", "VBUS", "PMID", "VIN", "VCC", "EN", "SS", "RT", "ILIM", "PROG", "TS", "STAT", "PG", "BOOT", "BOOT1", "SW", "SW1", "BOOT2", "SW2", "SNUB", "OUT", "SYS", "BAT", "FB", "COMP", "CMID"];
const TALL = 62, WIDE = 114, CHIP = 132, FIRST = 176;

export function ladder(around: Around): Ladder {
  const used = new Set(around.places.flatMap((p) => p.between));
  const known = around.points.filter((p) => p.name !== "GND" && (used.has(p.name) || (p.pins.length > 0 && !p.name.startsWith("#"))));
  const more = used.has("#rail") ? [{ name: "#rail", words: "a rail", nets: [], pins: [] }] : [];
  const rank = (name: string): number => { const at = ORDER.indexOf(name); return at < 0 ? ORDER.length : at; };
  const points = [...more, ...known].sort((a, b) => rank(a.name) - rank(b.name));
  const at = new Map(points.map((p, i) => [p.name, i]));
  const spans = around.places.flatMap((place) => {
    const ends = place.between.filter((p) => p !== "GND").map((p) => at.get(p));
    if (!ends.length || ends.some((e) => e === undefined)) return [];
    const rows = ends as number[];
    return [{ place, top: Math.min(...rows), foot: Math.max(...rows), ground: place.between.includes("GND") }];
  }).sort((a, b) => a.top - b.top || a.foot - a.top - (b.foot - b.top));
  const columns: { top: number; foot: number }[][] = [];
  const rungs = spans.map((span) => {
    // A part to ground hangs into the space below its row; one between rows takes all rows it spans.
    const reach = { top: span.top, foot: span.ground ? span.foot + 0.9 : span.foot };
    let column = columns.findIndex((taken) => taken.every((t) => t.foot < reach.top || t.top > reach.foot));
    if (column < 0) { column = columns.length; columns.push([]); }
    columns[column]!.push(reach);
    return { place: span.place, x: FIRST + column * WIDE, top: span.top, foot: span.foot, ground: span.ground };
  });
  const y = (row: number): number => 34 + row * TALL;
  const right = FIRST + Math.max(1, columns.length) * WIDE;
  const rows = points.map((point, i) => {
    const own = rungs.filter((r) => r.top === i || r.foot === i);
    return { point, y: y(i), from: point.pins.length ? CHIP : Math.min(right - WIDE, ...own.map((r) => r.x)) - (point.pins.length ? 0 : 14), to: right - 30 };
  });
  return {
    rows, rungs: rungs.map((r) => ({ ...r, top: y(r.top), foot: y(r.foot) })), width: right + 150, height: y(points.length - 1) + 62,
    chip: { x: 12, y: 10, width: CHIP - 12, height: Math.max(60, y(points.length - 1) + 14) },
  };
}
