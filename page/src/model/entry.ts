/** What typed figures will be taken for, shown while they are typed. The server decides; this only says it beforehand. */
export function meant(text: string, quantity: string, compliance: number): string {
  const bare = /^\s*([+-]?\d*[.,]?\d+)\s*$/.exec(text);
  const unit = quantity.includes("ohms") ? "Ω" : quantity.includes("amps") ? "A" : "V";
  if (/^\s*(ol|o\.l\.?|0l|open)\s*$/i.test(text)) return "OL";
  if (!bare) return "";
  const value = Number(bare[1]!.replace(",", "."));
  const most = quantity.includes("diode") ? compliance : quantity.includes("amps") ? 30 : Infinity;
  const least = quantity.includes("diode") && /^\s*[+-]?\d+\s*$/.test(text) ? 0 : most; // a display in volts shows its point
  return Math.abs(value) > least && Math.abs(value) <= 1000 * most ? `${value} m${unit}` : `${value} ${unit}`;
}
