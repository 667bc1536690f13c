/** Draws a map that is being made: pads with their numbers, what the hand is placing, what belongs together. */
import { after, at, seat, type Affine, type Layer, type Pattern, type Spot } from "../model/map";
import type { Part, Point } from "../model/case";

export interface MapScene {
  points: Point[]; parts: Part[]; side: string; ground: string; chosen: string; same: string;
  first: { layer: Layer; at: Spot } | null; hover: Spot | null; pattern: Pattern | null; span: { a: Spot; b: Spot } | null; measuring: boolean;
  waiting?: { layer: Layer; pattern: Pattern; first: Spot; far: Spot }[];
}
const FONT = '650 12px system-ui, "Noto Sans", "DejaVu Sans", sans-serif';
const SMALL = 5, NUMBERED = 13, MOST_LABELS = 400;
const DARK = "#10202b", PAPER = "#fffdf8";

interface Box { p: Point; x: number; y: number; ax: number; ay: number; bx: number; by: number; size: number }

function boxes(w: number, h: number, eye: Affine, points: Point[], side: string): Box[] {
  const out: Box[] = [], scale = eye[4]!, flip = Math.sign(eye[0]!);
  for (const p of points) {
    if (p.side !== side) continue;
    const x = eye[0]! * p.x + eye[2]!, y = scale * p.y + eye[5]!;
    const reach = Math.max(p.width, p.height) * scale;
    if (x < -reach || y < -reach || x > w + reach || y > h + reach) continue;
    const t = ((p.angle ?? 0) * Math.PI) / 180, cos = Math.cos(t), sin = Math.sin(t), i = (p.width / 2) * scale, j = (p.height / 2) * scale;
    out.push({ p, x, y, ax: flip * cos * i, ay: -sin * i, bx: flip * sin * j, by: cos * j, size: Math.min(i, j) * 2 });
  }
  return out;
}

function trace(c: CanvasRenderingContext2D, b: Box): void {
  c.moveTo(b.x - b.ax - b.bx, b.y - b.ay - b.by); c.lineTo(b.x + b.ax - b.bx, b.y + b.ay - b.by);
  c.lineTo(b.x + b.ax + b.bx, b.y + b.ay + b.by); c.lineTo(b.x - b.ax + b.bx, b.y - b.ay + b.by); c.closePath();
}

const AROUND = 256;
let kept: { canvas: HTMLCanvasElement; scene: MapScene; x: number; y: number; scale: number; w: number; h: number } | null = null;
/** What changes the pads; where the hand is does not. */
function alike(a: MapScene, b: MapScene): boolean {
  return a.points === b.points && a.parts === b.parts && a.side === b.side && a.ground === b.ground && a.chosen === b.chosen && a.same === b.same;
}
/** The pads, painted once for the neighbourhood of what is in sight and moved along while that is panned over. */
export function paintPads(c: CanvasRenderingContext2D, w: number, h: number, eye: Affine, s: MapScene): void {
  const pads = around(w, h, eye, s);
  if (!pads) return;
  c.setTransform(1, 0, 0, 1, 0, 0);
  c.drawImage(pads.canvas, Math.round(eye[2]! - pads.x) - AROUND, Math.round(eye[5]! - pads.y) - AROUND);
}
/** Whether what is kept shows all that is in sight. */
function isNear(w: number, h: number, eye: Affine, s: MapScene): boolean {
  return !!kept && kept.w === w && kept.h === h && kept.scale === eye[0] && Math.abs(kept.x - eye[2]!) <= AROUND && Math.abs(kept.y - eye[5]!) <= AROUND && alike(kept.scene, s);
}
function around(w: number, h: number, eye: Affine, s: MapScene): typeof kept {
  const x = eye[2]!, y = eye[5]!;
  if (isNear(w, h, eye, s)) return kept;
  const canvas = kept?.canvas ?? document.createElement("canvas"), own = canvas.getContext("2d");
  if (!own) return null;
  sized(canvas, w, h);
  own.setTransform(1, 0, 0, 1, 0, 0);
  own.clearRect(0, 0, canvas.width, canvas.height);
  drawPads(own, canvas.width, canvas.height, [eye[0]!, eye[1]!, x + AROUND, eye[3]!, eye[4]!, y + AROUND], s);
  kept = { canvas, scene: s, x, y, scale: eye[0]!, w, h };
  return kept;
}
function sized(canvas: HTMLCanvasElement, w: number, h: number): void {
  const wide = w + 2 * AROUND, high = h + 2 * AROUND;
  if (canvas.width !== wide || canvas.height !== high) { canvas.width = wide; canvas.height = high; }
}

/**
 * Pictures and pads in one: while only the hand moves the board, a frame costs one copy of what is painted already. What
 * is copied is a picture that nobody can paint on any more: of a canvas the browser takes a copy of its own each time.
 */
export class Stage {
  #own: ImageBitmap | null = null;
  #what: unknown[] = [];
  #ready = false;
  #x = 0;
  #y = 0;

  /**
   * Paint what lies still. `what` is all that changes it but the panning; `pads` is null where none are seen, and
   * `below` paints the pictures with a margin about the view.
   */
  paint(c: CanvasRenderingContext2D, w: number, h: number, eye: Affine, what: unknown[], pads: MapScene | null, below: Below): void {
    const all = [w, h, eye[0], ...what], same = all.length === this.#what.length && all.every((one, i) => one === this.#what[i]);
    this.#what = all;
    if (!same || !("OffscreenCanvas" in window)) { // while zooming, or as pictures come in, every frame is another: the margin would be painted in vain
      this.#ready = false;
      below(c, w, h, eye);
      if (pads && isNear(w, h, eye, pads)) paintPads(c, w, h, eye, pads);
      else if (pads) drawPads(c, w, h, eye, pads);
      return;
    }
    const drawn = pads ? around(w, h, eye, pads) : null, x = drawn?.x ?? eye[2]!, y = drawn?.y ?? eye[5]!;
    const near = Math.abs(this.#x - eye[2]!) <= AROUND && Math.abs(this.#y - eye[5]!) <= AROUND && (!drawn || (drawn.x === this.#x && drawn.y === this.#y));
    if (!this.#ready || !near) {
      const width = w + 2 * AROUND, high = h + 2 * AROUND, canvas = new OffscreenCanvas(width, high), own = canvas.getContext("2d", { alpha: false });
      if (!own) return;
      below(own, width, high, [eye[0]!, eye[1]!, x + AROUND, eye[3]!, eye[4]!, y + AROUND]);
      own.setTransform(1, 0, 0, 1, 0, 0);
      if (drawn) own.drawImage(drawn.canvas, 0, 0);
      this.#own?.close();
      this.#own = canvas.transferToImageBitmap();
      this.#x = x; this.#y = y; this.#ready = true;
    }
    c.setTransform(1, 0, 0, 1, 0, 0);
    c.drawImage(this.#own!, Math.round(eye[2]! - this.#x) - AROUND, Math.round(eye[5]! - this.#y) - AROUND);
  }
}
export type Pen = CanvasRenderingContext2D | OffscreenCanvasRenderingContext2D;
export type Below = (c: Pen, w: number, h: number, eye: Affine) => void;

/** Pads no one has joined are dashed, joined ones solid, ground has a foot, the chosen net is filled. */
function drawPads(c: CanvasRenderingContext2D, w: number, h: number, eye: Affine, s: MapScene): void {
  c.setTransform(1, 0, 0, 1, 0, 0);
  const all = boxes(w, h, eye, s.points, s.side), large = all.filter((b) => b.size >= SMALL);
  if (large.length < all.length) {
    for (const same of [false, true]) {
      c.fillStyle = same ? "#ffd37a" : PAPER;
      for (const b of all) if (b.size < SMALL && (!!s.same && b.p.net === s.same) === same) c.fillRect(b.x - 1.5, b.y - 1.5, 3, 3);
    }
  }
  const groups: [Box[], string, number[]][] = [
    [large.filter((b) => !b.p.net), PAPER, [4, 3]],
    [large.filter((b) => b.p.net && b.p.net !== s.same), PAPER, []],
    [large.filter((b) => b.p.net && b.p.net === s.same), "#ffd37a", []],
  ];
  for (const [group, colour, dash] of groups) {
    if (!group.length) continue;
    c.beginPath();
    for (const b of group) trace(c, b);
    if (colour !== PAPER) { c.fillStyle = "rgba(255,211,122,.45)"; c.fill(); }
    c.setLineDash([]); c.strokeStyle = DARK; c.lineWidth = 4; c.stroke();
    c.setLineDash(dash); c.strokeStyle = colour; c.lineWidth = 2; c.stroke();
  }
  c.setLineDash([]);
  feet(c, large.filter((b) => b.p.net === s.ground && b.size > 9));
  pinOnes(c, eye, s, all);
  labels(c, w, h, eye, s, large);
  const chosen = large.find((b) => b.p.name === s.chosen) ?? all.find((b) => b.p.name === s.chosen);
  if (chosen) {
    const r = Math.hypot(chosen.ax, chosen.ay) + 7;
    c.strokeStyle = PAPER; c.lineWidth = 6; c.strokeRect(chosen.x - r, chosen.y - r, 2 * r, 2 * r);
    c.strokeStyle = "#0b5d8f"; c.lineWidth = 3; c.strokeRect(chosen.x - r, chosen.y - r, 2 * r, 2 * r);
  }
}

function feet(c: CanvasRenderingContext2D, ground: Box[]): void {
  if (!ground.length) return;
  c.beginPath();
  for (const b of ground) { const r = b.size * 0.3; c.moveTo(b.x - r, b.y + r); c.lineTo(b.x + r, b.y + r); c.moveTo(b.x, b.y + r); c.lineTo(b.x, b.y - r); }
  c.strokeStyle = DARK; c.lineWidth = 4; c.stroke();
  c.strokeStyle = PAPER; c.lineWidth = 2; c.stroke();
}

const ENDS_DIFFER = new Set(["connector", "diode", "schottky", "led", "tvs", "polymer"]);
/** Pin 1 of whatever has one, by the name of its pad. */
const ones = new WeakMap<Part[], Map<string, Part>>();
function onesOf(parts: Part[]): Map<string, Part> {
  let found = ones.get(parts);
  if (!found) {
    found = new Map(parts.filter((p) => p.place && p.pins.length && (p.pins.length > 2 || ENDS_DIFFER.has(p.kind))).map((p) => [`${p.name}.${p.pins[0]!.number}`, p]));
    ones.set(parts, found);
  }
  return found;
}
/** A solid wedge from outside onto pin 1, the same at any distance: its shape says it, no colour has to. */
function pinOnes(c: CanvasRenderingContext2D, eye: Affine, s: MapScene, all: Box[]): void {
  const known = onesOf(s.parts);
  if (!known.size) return;
  c.beginPath();
  for (const b of all) {
    const place = known.get(b.p.name)?.place;
    if (!place) continue;
    const m = at(eye, place.x_mm, place.y_mm), dx = b.x - m.x, dy = b.y - m.y;
    const ways = [[b.ax, b.ay], [-b.ax, -b.ay], [b.bx, b.by], [-b.bx, -b.by]] as const;
    const reach = (w: readonly [number, number]): number => (w[0] * dx + w[1] * dy) / Math.hypot(w[0], w[1]);
    const [x, y] = ways.reduce((best, one) => (reach(one) > reach(best) + 1e-6 ? one : best));
    wedge(c, b.x + x, b.y + y, x / Math.hypot(x, y), y / Math.hypot(x, y), Math.min(14, Math.max(10, b.size * 0.6)));
  }
  c.setLineDash([]); c.lineJoin = "round";
  c.strokeStyle = DARK; c.lineWidth = 4; c.stroke();
  c.fillStyle = PAPER; c.fill();
}
/** A triangle whose tip is just outside (x, y), and which lies in the direction (u, v) from there. */
function wedge(c: CanvasRenderingContext2D, x: number, y: number, u: number, v: number, long: number): void {
  const tipX = x + 2 * u, tipY = y + 2 * v, backX = tipX + long * u, backY = tipY + long * v, half = long * 0.6;
  c.moveTo(tipX, tipY); c.lineTo(backX - half * v, backY + half * u); c.lineTo(backX + half * v, backY - half * u); c.closePath();
}

function word(c: CanvasRenderingContext2D, x: number, y: number, text: string): void {
  c.lineWidth = 3.5; c.strokeStyle = DARK; c.strokeText(text, x, y); c.fillText(text, x, y);
}

function labels(c: CanvasRenderingContext2D, w: number, h: number, eye: Affine, s: MapScene, large: Box[]): void {
  c.font = FONT; c.textAlign = "center"; c.textBaseline = "middle"; c.lineJoin = "round"; c.fillStyle = PAPER;
  const numbered = large.filter((b) => b.size >= NUMBERED && b.p.net !== s.ground);
  for (const b of numbered.length > MOST_LABELS ? [] : numbered) word(c, b.x, b.y, b.p.name.slice(b.p.name.lastIndexOf(".") + 1));
  let count = 0;
  const taken: { x: number; y: number; half: number }[] = [];
  for (const part of s.parts) {
    const place = part.place;
    if (!place || place.side !== s.side || Math.max(place.width_mm, place.height_mm) * eye[4]! < 26 || count > MOST_LABELS) continue;
    const p = at(eye, place.x_mm, place.y_mm);
    if (p.x < -40 || p.y < -20 || p.x > w + 40 || p.y > h + 20) continue;
    count++;
    // Beside a two-terminal part, in the middle of a larger one.
    const y = part.pins.length > 2 ? p.y : p.y - Math.min(place.width_mm, place.height_mm) * 0.5 * eye[4]! - 10, half = c.measureText(part.name).width / 2 + 3;
    if (taken.some((t) => Math.abs(t.x - p.x) < t.half + half && Math.abs(t.y - y) < 14)) continue;
    taken.push({ x: p.x, y, half });
    word(c, p.x, y, part.name);
  }
}

function cross(c: CanvasRenderingContext2D, p: Spot, r: number): void {
  for (const [colour, width] of [[DARK, 5], ["#ffd37a", 2]] as const) {
    c.strokeStyle = colour; c.lineWidth = width;
    c.beginPath(); c.moveTo(p.x - r, p.y); c.lineTo(p.x + r, p.y); c.moveTo(p.x, p.y - r); c.lineTo(p.x, p.y + r); c.stroke();
  }
}

/** What the hand is placing: the first click, and where the pads would lie if the second were here. */
export function paintDraft(c: CanvasRenderingContext2D, eye: Affine, s: MapScene): void {
  c.setTransform(1, 0, 0, 1, 0, 0);
  // Laid, and on its way back from being held against the picture.
  for (const one of s.waiting ?? []) {
    const m = after(eye, one.layer.to_board);
    ghost(c, one.pattern, at(m, one.first.x, one.first.y), at(m, one.far.x, one.far.y));
  }
  if (s.first) {
    const m = after(eye, s.first.layer.to_board), from = at(m, s.first.at.x, s.first.at.y);
    cross(c, from, 9);
    const to = s.span ? at(m, s.span.b.x, s.span.b.y) : s.hover;
    if (to && s.measuring) { c.beginPath(); c.moveTo(from.x, from.y); c.lineTo(to.x, to.y); c.strokeStyle = DARK; c.lineWidth = 5; c.stroke(); c.strokeStyle = "#ffd37a"; c.lineWidth = 2; c.stroke(); }
    if (to && s.pattern && !s.measuring && Math.hypot(to.x - from.x, to.y - from.y) > 4) ghost(c, s.pattern, from, to);
  }
  if (s.hover) cross(c, s.hover, 14);
}

function ghost(c: CanvasRenderingContext2D, pattern: Pattern, from: Spot, to: Spot): void {
  c.beginPath();
  const pads = seat(pattern, from, to);
  for (const pad of pads) { pad.corners.forEach((p, i) => (i ? c.lineTo(p.x, p.y) : c.moveTo(p.x, p.y))); c.closePath(); }
  c.fillStyle = "rgba(255,211,122,.35)"; c.fill();
  c.strokeStyle = DARK; c.lineWidth = 3.5; c.stroke(); c.strokeStyle = "#ffd37a"; c.lineWidth = 1.5; c.stroke();
  const one = pattern.lands.length > 2 ? pads.find((pad) => pad.number === pattern.first) : undefined;
  if (!one) return;
  const mid = (all: Spot[]): Spot => ({ x: all.reduce((t, p) => t + p.x, 0) / all.length, y: all.reduce((t, p) => t + p.y, 0) / all.length });
  const m = mid(pads.map((pad) => mid(pad.corners))), p = mid(one.corners);
  const edges = one.corners.map((a, i) => mid([a, one.corners[(i + 1) % 4]!]));
  const out = edges.reduce((best, e) => { const way = (q: Spot): number => ((q.x - p.x) * (p.x - m.x) + (q.y - p.y) * (p.y - m.y)) / (Math.hypot(q.x - p.x, q.y - p.y) || 1); return way(e) > way(best) + 1e-6 ? e : best; });
  const far = Math.hypot(out.x - p.x, out.y - p.y) || 1;
  c.beginPath(); wedge(c, out.x, out.y, (out.x - p.x) / far, (out.y - p.y) / far, 11);
  c.strokeStyle = DARK; c.lineWidth = 4; c.stroke(); c.fillStyle = "#ffd37a"; c.fill();
}
