/** What typed figures will be taken for, shown while they are typed. The server decides; this only says it beforehand. */
export interface Meant { words: string; guessed: string }
const SCALE: Record<string, string> = { k: "k", K: "k", M: "M", G: "G", m: "m", u: "µ", "µ": "µ", R: "" };

export function meant(text: string, quantity: string, compliance: number): Meant | null {
  const unit = quantity.includes("ohms") ? "Ω" : quantity.includes("amps") ? "A" : "V", plain = text.trim().replace(",", ".");
  if (/^(ol|o\.l\.?|0l|open)$/i.test(plain)) return { words: "OL", guessed: "" };
  if (/^[+-]?\d*\.?\d+$/.test(plain) || /^[+-]?\d+\.$/.test(plain)) {
    const value = Number(plain), most = quantity.includes("diode") ? compliance : quantity.includes("amps") ? 30 : Infinity;
    const least = quantity.includes("diode") && /^[+-]?\d+$/.test(plain) ? 0 : most; // a display in volts shows its point
    const milli = Math.abs(value) > least && Math.abs(value) <= 1000 * most;
    return milli ? { words: `${value} m${unit}`, guessed: Math.abs(value) <= most ? `${value} ${unit}` : "" } : { words: `${value} ${unit}`, guessed: "" };
  }
  // IEC 60062: the letter stands for the point.
  const coded = /^([+-]?\d+)([kKMGmuµR])(\d*)$/.exec(plain) ?? /^([+-]?\d*\.?\d+)\s*([kKMGmuµ])()$/.exec(plain);
  return coded ? { words: `${Number(coded[3] ? `${coded[1]}.${coded[3]}` : coded[1])} ${SCALE[coded[2]!]}${unit}`, guessed: "" } : null;
}
