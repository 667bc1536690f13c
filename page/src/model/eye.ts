/** What the camera at the meter's display has seen. Corners and boxes are shares of the picture's width and height. */
export interface EyeSeen {
  text: string; unit: string; words: string[]; why: string; margin: number; boxes: number[][]; asks: boolean;
  believed: { text: string; value: number | null; held: boolean } | null;
}
