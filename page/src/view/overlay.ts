/** Draws over the map what nets and looks add: the pair that is asked about, what disagrees, fields looked over, marks. */
import { at, type Affine } from "../model/map";
import type { Part, Point } from "../model/case";
import type { NetsView } from "../model/nets.svelte";

export interface NetScene {
  side: string; points: Point[]; parts: Part[]; view: NetsView | null; pair: [string, string] | null; ground: string; looking: boolean;
  /** Fields of the lens that is looked through, the one under it, and how close it looks. */
  lens: { name: string; box: [number, number, number, number]; seen: number }[]; under: string; closeness: number;
  marks: { pad: string; x: number; y: number }[];
}
const DARK = "#10202b", PAPER = "#fffdf8", RED = "#9c1c00", LIT = "#ffd37a";
const FONT = '650 13px system-ui, "Noto Sans", "DejaVu Sans", sans-serif';
const SHAPES: Record<string, [number, number][][]> = {
  crack: [[[-9, -9], [9, 9]], [[9, -9], [-9, 9]]], burn: [[[0, -11], [10, 8], [-10, 8], [0, -11]]],
  corrosion: [Array.from({ length: 17 }, (_, i) => [9 * Math.cos((i * Math.PI) / 8), 9 * Math.sin((i * Math.PI) / 8)] as [number, number])],
  missing: [[[-9, -9], [9, -9], [9, 9], [-9, 9], [-9, -9]]], reworked: [[[-10, 0], [10, 0]], [[0, -10], [0, 10]]],
};

export function paintNets(c: CanvasRenderingContext2D, eye: Affine, s: NetScene): void {
  c.setTransform(1, 0, 0, 1, 0, 0);
  const asked = new Set([...(s.view?.doubts ?? []).flatMap((d) => d.pads), ...(s.pair ?? [])]); // of many thousand pads a few
  const place = new Map((asked.size ? s.points : []).filter((p) => p.side === s.side && asked.has(p.name)).map((p) => [p.name, at(eye, p.x, p.y)] as const));
  if (s.looking) { fields(c, eye, s); lensFields(c, eye, s); }
  marks(c, eye, s);
  for (const doubt of s.view?.doubts ?? []) {
    const a = place.get(doubt.pads[0]), b = place.get(doubt.pads[1]);
    if (a && b) line(c, a, b, RED, [9, 6], "≠");
  }
  if (s.pair) {
    const a = place.get(s.pair[0]), b = place.get(s.pair[1]);
    if (a && b) line(c, a, b, LIT, [], "?");
    for (const p of [a, b]) if (p) spot(c, p, LIT);
  }
  for (const m of s.marks) { const p = at(eye, m.x, m.y); spot(c, p, LIT); word(c, p.x, p.y - 18, m.pad, DARK, PAPER); }
}
function spot(c: CanvasRenderingContext2D, p: { x: number; y: number }, colour: string): void {
  for (const [tone, width] of [[DARK, 6], [colour, 3]] as const) { c.strokeStyle = tone; c.lineWidth = width; c.setLineDash([]); c.strokeRect(p.x - 12, p.y - 12, 24, 24); }
}
function line(c: CanvasRenderingContext2D, a: { x: number; y: number }, b: { x: number; y: number }, colour: string, dash: number[], text: string): void {
  for (const [tone, width] of [[colour === RED ? "#ffffff" : DARK, 6], [colour, 3]] as const) {
    c.setLineDash(dash); c.strokeStyle = tone; c.lineWidth = width; c.beginPath(); c.moveTo(a.x, a.y); c.lineTo(b.x, b.y); c.stroke();
  }
  c.setLineDash([]);
  word(c, (a.x + b.x) / 2, (a.y + b.y) / 2, text, colour === RED ? RED : DARK, PAPER);
}
function word(c: CanvasRenderingContext2D, x: number, y: number, text: string, paper: string, ink: string): void {
  c.font = FONT; c.textAlign = "center"; c.textBaseline = "middle";
  const w = c.measureText(text).width + 10;
  c.fillStyle = paper; c.beginPath(); c.roundRect(x - w / 2, y - 10, w, 20, 4); c.fill();
  c.fillStyle = ink; c.fillText(text, x, y + 1);
}
/** Fields looked over are hatched, the closer the look the closer the hatching, with the magnification written in. */
function fields(c: CanvasRenderingContext2D, eye: Affine, s: NetScene): void {
  for (const f of s.view?.fields ?? []) {
    if (f.side !== s.side) continue;
    const a = at(eye, f.x_mm, f.y_mm), b = at(eye, f.x_mm + f.width_mm, f.y_mm + f.height_mm);
    const x = Math.min(a.x, b.x), y = Math.min(a.y, b.y), w = Math.abs(b.x - a.x), h = Math.abs(b.y - a.y);
    c.save(); c.beginPath(); c.rect(x, y, w, h); c.clip();
    c.strokeStyle = "rgba(86,180,233,.55)"; c.lineWidth = 1.5; c.beginPath();
    const step = f.magnification >= 20 ? 9 : f.magnification >= 10 ? 14 : 24;
    for (let d = -h; d < w; d += step) { c.moveTo(x + d, y + h); c.lineTo(x + d + h, y); }
    c.stroke(); c.restore();
    c.strokeStyle = "#56b4e9"; c.lineWidth = 2; c.strokeRect(x, y, w, h);
    if (!s.lens.length) word(c, x + 26, y + 14, `${f.magnification}×`, DARK, PAPER);
  }
}
/** The fields of the lens: a name and how closely each was seen, while there is room; the one under it stands out. */
function lensFields(c: CanvasRenderingContext2D, eye: Affine, s: NetScene): void {
  c.font = FONT;
  let under: [number, number, number, number] | null = null;
  for (const f of s.lens) {
    const a = at(eye, f.box[0], f.box[1]), b = at(eye, f.box[0] + f.box[2], f.box[1] + f.box[3]);
    const x = Math.min(a.x, b.x), y = Math.min(a.y, b.y), w = Math.abs(b.x - a.x), h = Math.abs(b.y - a.y);
    if (x > c.canvas.width || y > c.canvas.height || x + w < 0 || y + h < 0) continue;
    for (const [tone, width] of [[DARK, 3], [PAPER, 1]] as const) { c.setLineDash(width === 1 ? [5, 5] : []); c.globalAlpha = width === 1 ? 1 : 0.4; c.strokeStyle = tone; c.lineWidth = width; c.strokeRect(x, y, w, h); }
    c.setLineDash([]); c.globalAlpha = 1;
    if (f.name === s.under) under = [x, y, w, h];
    const text = f.seen ? `${f.name} · ${f.seen}×${f.seen >= s.closeness ? " ✓" : ""}` : f.name, wide = c.measureText(text).width + 10;
    if (wide + 6 < w && h > 26) word(c, Math.max(x, 0) + 4 + wide / 2, Math.max(y, 0) + 14, text, f.seen >= s.closeness ? DARK : PAPER, f.seen >= s.closeness ? PAPER : DARK);
    else if (f.seen >= s.closeness && w > 16 && h > 16) word(c, x + w / 2, y + h / 2, "✓", DARK, PAPER);
  }
  if (under) for (const [tone, width] of [[DARK, 8], [LIT, 4]] as const) { c.strokeStyle = tone; c.lineWidth = width; c.strokeRect(...under); }
}
function marks(c: CanvasRenderingContext2D, eye: Affine, s: NetScene): void {
  for (const look of s.view?.looks ?? []) {
    const shape = SHAPES[look.finding];
    for (const name of shape ? look.parts : []) {
      const where = s.parts.find((p) => p.name === name)?.place;
      if (!shape || !where || where.side !== s.side) continue;
      const p = at(eye, where.x_mm, where.y_mm);
      for (const [tone, width] of [[PAPER, 7], [RED, 3]] as const) {
        c.strokeStyle = tone; c.lineWidth = width; c.setLineDash([]);
        for (const stroke of shape) { c.beginPath(); stroke.forEach(([u, v], i) => (i ? c.lineTo(p.x + u, p.y + v) : c.moveTo(p.x + u, p.y + v))); c.stroke(); }
      }
      word(c, p.x, p.y + 24, `${name}: ${look.finding}`, RED, PAPER);
    }
  }
}
