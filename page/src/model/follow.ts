/** Where the picture has to stand so that what is due is in sight. No DOM here. */
import type { Point } from "./case";

export interface Standing { scale: number; x: number; y: number }
export interface Room { width: number; height: number }
/** Below so many pixels a millimetre, a small part on the whole board is a dot and its pads cannot be told apart. [px/mm] */
export const TOO_SMALL = 3;
/** What is shown around the points: enough to know the place again on the board. [mm] */
const AROUND = 14;
/** Nearer to the edge than this, a ring and its name are cut off. [px] */
const EDGE = 40;

/** These points with what lies around them fill the room; the underside is seen from below. */
export function over(points: Point[], room: Room, side: string): Standing {
  const xs = points.map((p) => p.x), ys = points.map((p) => p.y), m = side === "bottom" ? -1 : 1;
  const left = Math.min(...xs) - AROUND, top = Math.min(...ys) - AROUND, wide = Math.max(...xs) + AROUND - left, high = Math.max(...ys) + AROUND - top;
  const scale = Math.min(room.width / wide, room.height / high);
  return { scale, x: room.width / 2 - m * scale * (left + wide / 2), y: room.height / 2 - scale * (top + high / 2) };
}
/** Whether every one of these is well in sight. */
export function inSight(points: Point[], eye: Standing, room: Room, side: string): boolean {
  const m = side === "bottom" ? -1 : 1;
  return points.every((p) => {
    const x = eye.x + m * eye.scale * p.x, y = eye.y + eye.scale * p.y;
    return x > EDGE && y > EDGE && x < room.width - EDGE && y < room.height - EDGE;
  });
}
