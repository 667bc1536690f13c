/** Draws over the pictures what two of them show differently, and the places marked in both. */
import { after, at, type Affine, type Layer } from "../model/map";
import type { Pictures } from "../model/pictures.svelte";

const DARK = "#10202b", LIT = "#ffd37a", FONT = '650 13px system-ui, "Noto Sans", "DejaVu Sans", sans-serif';

/** Boxes with cut corners, numbered: no other mark of the map looks so. */
export function paintChanges(c: CanvasRenderingContext2D, eye: Affine, side: string, layers: Layer[], s: Pictures): void {
  c.setTransform(1, 0, 0, 1, 0, 0);
  c.font = FONT; c.textAlign = "center"; c.textBaseline = "middle"; c.lineJoin = "round";
  if (s.changes?.side === side) s.changes.places.forEach((p, n) => {
    const a = at(eye, p.x_mm, p.y_mm), b = at(eye, p.x_mm + p.width_mm, p.y_mm + p.height_mm);
    box(c, Math.min(a.x, b.x) - 6, Math.min(a.y, b.y) - 6, Math.abs(b.x - a.x) + 12, Math.abs(b.y - a.y) + 12, n === s.at, String(n + 1));
  });
  const now = s.laying;
  if (!now) return;
  const shown = layers.find((l) => l.key === now.onto.key) ? now.onto : now.layer, m = after(eye, shown.to_board);
  now.pairs.forEach((p, n) => { const q = shown === now.onto ? p.there : p.here, t = at(m, q.x, q.y); mark(c, t.x, t.y, String(n + 1)); });
  if (now.half && shown === now.onto) { const t = at(m, now.half.x, now.half.y); mark(c, t.x, t.y, String(now.pairs.length + 1)); }
}
function box(c: CanvasRenderingContext2D, x: number, y: number, w: number, h: number, chosen: boolean, text: string): void {
  const k = Math.min(8, w / 3, h / 3);
  for (const [tone, width] of [[DARK, chosen ? 8 : 5], [LIT, chosen ? 4.5 : 2]] as const) {
    c.strokeStyle = tone; c.lineWidth = width; c.setLineDash([]);
    c.beginPath(); c.moveTo(x + k, y); c.lineTo(x + w - k, y); c.lineTo(x + w, y + k); c.lineTo(x + w, y + h - k); c.lineTo(x + w - k, y + h);
    c.lineTo(x + k, y + h); c.lineTo(x, y + h - k); c.lineTo(x, y + k); c.closePath(); c.stroke();
  }
  c.lineWidth = 4; c.strokeStyle = DARK; c.strokeText(text, x, y - 8); c.fillStyle = LIT; c.fillText(text, x, y - 8);
}
function mark(c: CanvasRenderingContext2D, x: number, y: number, text: string): void {
  for (const [tone, width] of [[DARK, 5], [LIT, 2]] as const) {
    c.strokeStyle = tone; c.lineWidth = width;
    c.beginPath(); c.moveTo(x - 12, y); c.lineTo(x + 12, y); c.moveTo(x, y - 12); c.lineTo(x, y + 12); c.stroke();
  }
  c.lineWidth = 4; c.strokeStyle = DARK; c.strokeText(text, x + 16, y - 12); c.fillStyle = LIT; c.fillText(text, x + 16, y - 12);
}
