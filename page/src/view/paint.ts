/** Draws the board, and over it only what the due step needs. Plain canvas: no GPU, no library. */
import type { Board, Part, Point, Side } from "../model/case";

export interface Scene {
  board: Board; points: Point[]; side: string; ground: HTMLImageElement | null; frame: Side; dark: boolean;
  red: Point[]; black: Point[]; lit: Point[]; litParts: Set<string>; halos: Map<string, number>; off: Set<string>;
  /** What is said before the names at the red and the black ring. */
  tips: [string, string];
  tags: { point: Point; text: string }[]; phase: number; hull: Point[];
  clashes: (readonly [Point, Point])[];
  /** Names of a chip's pins, each outwards from its body. */
  names?: { point: Point; text: string; dx: number; dy: number; lit: boolean }[];
  /** Draws the pictures of a map that is being made, in the place of a finished picture. */
  under?: (() => void) | undefined;
}
export interface Eye { scale: number; x: number; y: number }

const FONT = 'system-ui, "Noto Sans", "DejaVu Sans", sans-serif';

export function paint(c: CanvasRenderingContext2D, w: number, h: number, eye: Eye, s: Scene): void {
  c.setTransform(1, 0, 0, 1, 0, 0);
  c.fillStyle = s.dark ? "#0f0d0a" : "#cfc7b8";
  c.fillRect(0, 0, w, h);
  const mirror = s.side === "bottom" ? -1 : 1;
  c.setTransform(eye.scale * mirror, 0, 0, eye.scale, eye.x, eye.y);
  if (s.under) { s.under(); c.setTransform(eye.scale * mirror, 0, 0, eye.scale, eye.x, eye.y); }
  else if (s.ground) {
    c.save();
    if (mirror < 0) { c.translate(s.frame.x * 2 + s.frame.width, 0); c.scale(-1, 1); }
    c.drawImage(s.ground, s.frame.x, s.frame.y, s.frame.width, s.frame.height);
    c.restore();
  } else drawBoard(c, s);
  drawOff(c, s);
  const busy = s.red.length || s.lit.length || s.litParts.size;
  if (busy) { c.fillStyle = s.dark ? "rgba(8,7,5,.5)" : "rgba(30,24,14,.24)"; c.fillRect(s.frame.x, s.frame.y, s.frame.width, s.frame.height); }
  drawHull(c, s, eye);
  for (const part of s.board.parts) if (part.place && part.place.side === s.side) {
    if (s.litParts.has(part.name)) boxOf(c, part, eye, "#ffd37a");
    const halo = s.halos.get(part.name);
    if (halo) drawHalo(c, part, halo, eye);
  }
  for (const p of s.lit) mark(c, p, eye, "#ffd37a");
  for (const tag of placed(s.tags, eye)) label(c, tag.x, tag.y, tag.text, eye, mirror, "#fffdf8", "#241f18", 12);
  s.black.forEach((p, i) => ring(c, p, eye, "black", i === 0, s));
  s.red.forEach((p, i) => ring(c, p, eye, "red", i === 0, s));
  for (const [a, b] of s.clashes) clash(c, a, b, eye, mirror);
  drawNames(c, s, eye, mirror);
}

function drawNames(c: CanvasRenderingContext2D, s: Scene, eye: Eye, mirror: number): void {
  const taken: { x: number; y: number; w: number }[] = [];
  c.font = `650 12px ${FONT}`;
  for (const n of [...(s.names ?? [])].sort((a, b) => Number(b.lit) - Number(a.lit))) {
    const w = c.measureText(n.text).width + 12, side = Math.abs(n.dx) >= Math.abs(n.dy), reach = (Math.max(n.point.width, n.point.height) / 2) * eye.scale + 3;
    // Where the pitch is fine every other name stands farther out.
    const place = [0, 1].map((step) => ({
      x: n.point.x + (side ? (Math.sign(n.dx) * (reach + w / 2 + step * 46)) / eye.scale : 0), y: n.point.y + (side ? 0 : (Math.sign(n.dy) * (reach + 11 + step * 20)) / eye.scale),
    })).find((at) => !taken.some((t) => Math.abs(t.x - at.x * eye.scale) < (t.w + w) / 2 && Math.abs(t.y - at.y * eye.scale) < 17));
    if (!place) continue;
    const { x, y } = place;
    taken.push({ x: x * eye.scale, y: y * eye.scale, w });
    label(c, x, y, n.text, eye, mirror, n.lit ? "#ffc44d" : "#fffdf8", "#241f18", 12);
  }
}

function drawBoard(c: CanvasRenderingContext2D, s: Scene): void {
  c.fillStyle = "#2c5f4a";
  c.beginPath(); c.roundRect(s.frame.x + 2, s.frame.y + 2, s.frame.width - 4, s.frame.height - 4, 1.5); c.fill();
  c.fillStyle = "#c9ccc8";
  for (const p of s.points) if (p.side === s.side) c.fillRect(p.x - p.width / 2, p.y - p.height / 2, p.width, p.height);
  for (const part of s.board.parts) {
    const at = part.place;
    if (!at || at.side !== s.side) continue;
    c.save(); c.translate(at.x_mm, at.y_mm); c.rotate((-at.angle_deg * Math.PI) / 180);
    c.fillStyle = part.kind === "capacitor" ? "#b08a5e" : part.kind === "coil" ? "#5b5d60" : part.kind === "connector" ? "#c4c4c0" : "#1f2022";
    c.fillRect(-at.width_mm * 0.4, -at.height_mm * 0.45, at.width_mm * 0.8, at.height_mm * 0.9);
    c.restore();
  }
}

function drawOff(c: CanvasRenderingContext2D, s: Scene): void {
  for (const part of s.board.parts) {
    const at = part.place;
    if (!at || at.side !== s.side || !s.off.has(part.name)) continue;
    c.save(); c.translate(at.x_mm, at.y_mm); c.rotate((-at.angle_deg * Math.PI) / 180);
    c.fillStyle = "#24513f"; c.fillRect(-at.width_mm / 2, -at.height_mm / 2, at.width_mm, at.height_mm);
    c.strokeStyle = "#f7f2e8"; c.lineWidth = 0.12; c.setLineDash([0.5, 0.35]); c.strokeRect(-at.width_mm / 2, -at.height_mm / 2, at.width_mm, at.height_mm);
    c.restore();
  }
}

/** A net is its pads and a soft skin around them, not a picture of tracks. */
function drawHull(c: CanvasRenderingContext2D, s: Scene, eye: Eye): void {
  const here = s.hull.filter((p) => p.side === s.side);
  if (here.length < 3 || here.length > 40) return;
  const xs = here.map((p) => p.x), ys = here.map((p) => p.y);
  const wide = Math.hypot(Math.max(...xs) - Math.min(...xs), Math.max(...ys) - Math.min(...ys)) > 0.3 * Math.hypot(s.frame.width, s.frame.height);
  if (wide) { lightPads(c, here); return; } // a skin over half the board says nothing
  const skin = convex(here);
  c.beginPath(); skin.forEach((p, i) => (i ? c.lineTo(p.x, p.y) : c.moveTo(p.x, p.y))); c.closePath();
  c.lineJoin = "round"; c.fillStyle = "rgba(255,226,160,.13)"; c.strokeStyle = "rgba(255,226,160,.13)"; c.lineWidth = Math.max(2, 18 / eye.scale);
  c.stroke(); c.fill();
  lightPads(c, here);
}
function lightPads(c: CanvasRenderingContext2D, pads: Point[]): void {
  for (const p of pads) {
    c.save(); c.translate(p.x, p.y); c.rotate((-(p.angle ?? 0) * Math.PI) / 180);
    c.fillStyle = "rgba(255,226,160,.85)"; c.fillRect(-p.width / 2, -p.height / 2, p.width, p.height);
    c.restore();
  }
}
function convex(points: Point[]): Point[] {
  const sorted = [...points].sort((a, b) => a.x - b.x || a.y - b.y);
  const half = (list: Point[]): Point[] => {
    const out: Point[] = [];
    for (const p of list) {
      while (out.length > 1) {
        const a = out[out.length - 2]!, b = out[out.length - 1]!;
        if ((b.x - a.x) * (p.y - a.y) - (b.y - a.y) * (p.x - a.x) > 0) break;
        out.pop();
      }
      out.push(p);
    }
    return out.slice(0, -1);
  };
  return [...half(sorted), ...half(sorted.reverse())];
}

function boxOf(c: CanvasRenderingContext2D, part: Part, eye: Eye, colour: string): void {
  const at = part.place!;
  c.save(); c.translate(at.x_mm, at.y_mm); c.rotate((-at.angle_deg * Math.PI) / 180);
  const pad = 5 / eye.scale;
  c.strokeStyle = colour; c.lineWidth = 3 / eye.scale;
  c.strokeRect(-at.width_mm / 2 - pad, -at.height_mm / 2 - pad, at.width_mm + 2 * pad, at.height_mm + 2 * pad);
  c.restore();
}
/** Probability as the area of a halo. */
function drawHalo(c: CanvasRenderingContext2D, part: Part, weight: number, eye: Eye): void {
  const at = part.place!, r = Math.sqrt(weight) * 46 / eye.scale + Math.min(at.width_mm, at.height_mm) * 0.5;
  const g = c.createRadialGradient(at.x_mm, at.y_mm, r * 0.25, at.x_mm, at.y_mm, r);
  g.addColorStop(0, "rgba(230,120,0,.62)"); g.addColorStop(0.75, "rgba(230,120,0,.3)"); g.addColorStop(1, "rgba(230,120,0,0)");
  c.fillStyle = g; c.beginPath(); c.arc(at.x_mm, at.y_mm, r, 0, 7); c.fill();
}
function mark(c: CanvasRenderingContext2D, p: Point, eye: Eye, colour: string): void {
  c.strokeStyle = colour; c.lineWidth = 2.5 / eye.scale;
  c.strokeRect(p.x - p.width / 2 - 3 / eye.scale, p.y - p.height / 2 - 3 / eye.scale, p.width + 6 / eye.scale, p.height + 6 / eye.scale);
}
/** Two readings that cannot both be: a broken line between their points, with the sign of what is not equal. */
function clash(c: CanvasRenderingContext2D, a: Point, b: Point, eye: Eye, mirror: number): void {
  const px = 1 / eye.scale;
  for (const [colour, width] of [["#ffffff", 6], ["#9c1c00", 3]] as const) {
    c.setLineDash([9 * px, 6 * px]); c.strokeStyle = colour; c.lineWidth = width * px;
    c.beginPath(); c.moveTo(a.x, a.y); c.lineTo(b.x, b.y); c.stroke();
  }
  c.setLineDash([]);
  label(c, (a.x + b.x) / 2, (a.y + b.y) / 2 - (a.name === b.name ? 26 * px : 0), "≠", eye, mirror, "#9c1c00", "#ffffff", 16);
}
/** The ring: no other mark is round and double. Red and black are told by fill and letter too. */
function ring(c: CanvasRenderingContext2D, p: Point, eye: Eye, probe: "red" | "black", first: boolean, s: Scene): void {
  const px = 1 / eye.scale, r = Math.max(p.width, p.height) / 2 + (first ? 11 : 4) * px + (first ? s.phase * 5 * px : 0);
  const tone = probe === "red" ? "#e0301e" : "#111111";
  c.beginPath(); c.arc(p.x, p.y, r, 0, 7); c.strokeStyle = "#ffffff"; c.lineWidth = (first ? 8 : 3.5) * px; c.stroke();
  c.beginPath(); c.arc(p.x, p.y, r, 0, 7); c.strokeStyle = tone; c.lineWidth = (first ? 4.5 : 2) * px; c.stroke();
  const words = (q: Point, which: string): string => `${which} ${q.name}`.trim(), [redTip, blackTip] = s.tips;
  const half = (q: Point, which: string): number => (words(q, which).length * 12 + 14) * 0.5 * px;
  const reach = (q: Point): number => Math.max(q.width, q.height) / 2 + 25 * px + (s.phase * 5 + 14) * px;
  const other = probe === "black" ? s.red[0] : undefined;
  // Red says its name above, black below; where the two names would lie on each other, black says it above too.
  const clash = (y: number): boolean => !!other && Math.abs(p.x - other.x) < half(p, blackTip) + half(other, redTip) && Math.abs(y - (other.y - reach(other) + 11 * px)) < 31 * px;
  const below = probe === "black" && !clash(p.y + r + 17 * px);
  const lift = (below ? 1 : -1) * (r + 17 * px);
  if (first) label(c, p.x, p.y + lift, words(p, probe === "red" ? redTip : blackTip), eye, s.side === "bottom" ? -1 : 1, tone, "#ffffff", 19, true);
}
function label(c: CanvasRenderingContext2D, x: number, y: number, text: string, eye: Eye, mirror: number, paper: string, ink: string, size: number, inside = false): void {
  c.save();
  c.font = `650 ${size}px ${FONT}`;
  const w = c.measureText(text).width + 12, h = size + 8;
  if (inside) { // a probe's name is never cut by the edge of the picture while its ring is in sight
    const keep = (at: number, half: number, most: number): number => Math.min(Math.max(at, half + 3), Math.max(most - half - 3, half + 3));
    const sx = eye.x + x * eye.scale * mirror, sy = eye.y + y * eye.scale;
    if (sx > 0 && sx < c.canvas.width) x = (keep(sx, w / 2, c.canvas.width) - eye.x) / (eye.scale * mirror);
    if (sy > -h && sy < c.canvas.height + h) y = (keep(sy, h / 2, c.canvas.height) - eye.y) / eye.scale;
  }
  c.translate(x, y); c.scale(mirror / eye.scale, 1 / eye.scale);
  c.fillStyle = paper; c.strokeStyle = "#ffffff"; c.lineWidth = 1.5;
  c.beginPath(); c.roundRect(-w / 2, -h / 2, w, h, 5); c.fill(); c.stroke();
  c.fillStyle = ink; c.textAlign = "center"; c.textBaseline = "middle"; c.fillText(text, 0, 1);
  c.restore();
}
/** Tags yield to each other: one that would lie on another moves down, and is left out where it finds no room. */
function placed(tags: { point: Point; text: string }[], eye: Eye): { x: number; y: number; text: string }[] {
  const out: { x: number; y: number; text: string }[] = [];
  for (const tag of tags) {
    for (const dy of [18, 40, -22, 62]) {
      const x = tag.point.x, y = tag.point.y + dy / eye.scale;
      if (out.some((o) => Math.abs(o.x - x) * eye.scale < 64 && Math.abs(o.y - y) * eye.scale < 21)) continue;
      out.push({ x, y, text: tag.text });
      break;
    }
  }
  return out;
}
