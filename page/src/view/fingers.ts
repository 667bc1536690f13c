/** Fingers on the picture: one clicks and drags, two bring it nearer and turn nothing. */

export interface Pinch { x: number; y: number; dx: number; dy: number; grown: number }
interface Tip { x: number; y: number }

export class Fingers {
  private tips = new Map<number, Tip>();
  private both = false;

  /** Whether two fingers are down, or one of two has not been lifted yet. */
  get two(): boolean { return this.both; }

  down(e: PointerEvent): void {
    this.tips.set(e.pointerId, { x: e.offsetX, y: e.offsetY });
    if (this.tips.size > 1) this.both = true;
  }

  up(e: PointerEvent): void {
    this.tips.delete(e.pointerId);
    if (!this.tips.size) this.both = false;
  }

  /** What a move of one of two fingers does to the picture, null where there are not two. */
  move(e: PointerEvent): Pinch | null {
    const tip = this.tips.get(e.pointerId);
    if (!tip) return null;
    const other = [...this.tips].find(([id]) => id !== e.pointerId)?.[1], now = { x: e.offsetX, y: e.offsetY };
    this.tips.set(e.pointerId, now);
    if (!other) return null;
    const was = Math.hypot(tip.x - other.x, tip.y - other.y), is = Math.hypot(now.x - other.x, now.y - other.y);
    return { x: (now.x + other.x) / 2, y: (now.y + other.y) / 2, dx: (now.x - tip.x) / 2, dy: (now.y - tip.y) / 2, grown: was > 8 ? is / was : 1 };
  }
}
