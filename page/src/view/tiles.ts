/** Draws a picture of any size from its tiles: plain canvas, only what is in sight, coarser tiles until finer ones come. */
import type { Pen } from "./chart";
import { after, at, inverse, type Affine, type Layer } from "../model/map";

const TILE = 512, MOST = 220, AT_ONCE = 6;
interface Tile { image: ImageBitmap | null; used: number; asked: boolean }

export class Tiles {
  #tiles = new Map<string, Tile>();
  #waiting: string[] = [];
  #busy = 0;
  #clock = 0;
  constructor(private readonly come: () => void) {}

  /** Before the layers of one painting are drawn: what was asked for in the one before and has not come is forgotten. */
  begin(): void {
    this.#waiting = [];
  }
  /** Draw a layer; `eye` takes board millimetres to the canvas. */
  draw(c: Pen, w: number, h: number, eye: Affine, layer: Layer): void {
    this.#clock++;
    const m = after(eye, layer.to_board), scale = Math.hypot(m[0]!, m[3]!);
    const levels = 1 + Math.max(0, Math.ceil(Math.log2(Math.max(layer.width, layer.height) / TILE)));
    const level = Math.max(0, Math.min(levels - 1, Math.round(levels - 0.85 + Math.log2(scale))));
    const k = 2 ** (levels - 1 - level), edge = TILE * k;
    const back = inverse(m), corners = [[0, 0], [w, 0], [0, h], [w, h]].map(([x, y]) => at(back, x!, y!));
    const across = Math.ceil(Math.ceil(layer.width / k) / TILE), down = Math.ceil(Math.ceil(layer.height / k) / TILE);
    const span = (values: number[], most: number): [number, number] => [Math.max(0, Math.floor(Math.min(...values) / edge)), Math.min(most - 1, Math.floor(Math.max(...values) / edge))];
    const [x0, x1] = span(corners.map((p) => p.x), across), [y0, y1] = span(corners.map((p) => p.y), down);
    c.imageSmoothingEnabled = scale * k < 3;
    for (let y = y0; y <= y1; y++) for (let x = x0; x <= x1; x++) this.#one(c, m, layer, levels, level, x, y);
    this.#load();
  }

  #one(c: Pen, m: Affine, layer: Layer, levels: number, level: number, x: number, y: number): void {
    if (!this.#get(layer, level, x, y)) this.#ask(`${layer.key}/${level}/${x}/${y}`);
    // The finest that is here already: the tile itself, else the part of a coarser one that it lies in.
    for (let up = 0; up <= level; up++) {
      const image = this.#get(layer, level - up, x >> up, y >> up);
      if (!image) { if (level - up === 0) this.#ask(`${layer.key}/0/0/0`); continue; }
      const n = 1 << up, part = TILE / n, sx = (x & (n - 1)) * part, sy = (y & (n - 1)) * part;
      const sw = Math.min(part, image.width - sx), sh = Math.min(part, image.height - sy);
      if (sw > 0 && sh > 0) this.#put(c, m, image, sx, sy, sw, sh, 2 ** (levels - 1 - (level - up)), (x >> up) * TILE, (y >> up) * TILE);
      return;
    }
  }

  #put(c: Pen, m: Affine, image: ImageBitmap, sx: number, sy: number, sw: number, sh: number, k: number, ox: number, oy: number): void {
    // Pixel centres are at whole numbers, so the first pixel begins half a pixel before.
    const u0 = (ox + sx) * k - 0.5, v0 = (oy + sy) * k - 0.5, u1 = u0 + sw * k, v1 = v0 + sh * k;
    if (Math.abs(m[1]!) < 1e-9 && Math.abs(m[3]!) < 1e-9 && m[0]! > 0 && m[4]! > 0) {
      const x0 = Math.round(m[0]! * u0 + m[2]!), y0 = Math.round(m[4]! * v0 + m[5]!), x1 = Math.round(m[0]! * u1 + m[2]!), y1 = Math.round(m[4]! * v1 + m[5]!);
      c.setTransform(1, 0, 0, 1, 0, 0); // whole pixels, or seams show between tiles
      c.drawImage(image, sx, sy, sw, sh, x0, y0, x1 - x0, y1 - y0);
      return;
    }
    c.setTransform(m[0]!, m[3]!, m[1]!, m[4]!, m[2]!, m[5]!);
    // A pixel of the screen under the next tile: two soft edges side by side would let a hairline through, like a scratch.
    const over = 1 / Math.hypot(m[0]!, m[3]!);
    c.drawImage(image, sx, sy, sw, sh, u0, v0, u1 - u0 + over, v1 - v0 + over);
  }

  #get(layer: Layer, level: number, x: number, y: number): ImageBitmap | null {
    const tile = this.#tiles.get(`${layer.key}/${level}/${x}/${y}`);
    if (!tile?.image) return null;
    tile.used = this.#clock;
    return tile.image;
  }
  #ask(name: string): void {
    if (!this.#tiles.get(name)?.asked && !this.#waiting.includes(name)) this.#waiting.push(name);
  }
  #load(): void {
    while (this.#busy < AT_ONCE && this.#waiting.length) {
      const name = this.#waiting.shift()!, tile: Tile = { image: null, used: this.#clock, asked: true };
      this.#tiles.set(name, tile);
      this.#busy++;
      fetch(`/api/tile/${name}`)
        .then((answer) => (answer.ok ? answer.blob() : Promise.reject(new Error(String(answer.status)))))
        .then((blob) => createImageBitmap(blob)) // decoded off the page's own thread
        .then((image) => { tile.image = image; this.#forget(); this.come(); })
        .catch(() => { window.setTimeout(() => { this.#tiles.delete(name); this.come(); }, 1000); })
        .finally(() => { this.#busy--; this.#load(); });
    }
  }
  #forget(): void {
    if (this.#tiles.size <= MOST) return;
    const old = [...this.#tiles].filter(([name, tile]) => tile.image && !name.endsWith("/0/0/0")).sort((a, b) => a[1].used - b[1].used);
    for (const [name, tile] of old.slice(0, this.#tiles.size - MOST)) { tile.image?.close(); this.#tiles.delete(name); }
  }
}
