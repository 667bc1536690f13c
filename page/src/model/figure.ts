/** A figure that the server drew as SVG, handed to the user as it is or as pixels. */
export async function picturePng(svg: string): Promise<Blob> {
  const image = new Image();
  image.src = `data:image/svg+xml;charset=utf-8,${encodeURIComponent(svg)}`;
  await image.decode();
  const canvas = document.createElement("canvas");
  canvas.width = image.naturalWidth; canvas.height = image.naturalHeight;
  const c = canvas.getContext("2d");
  if (!c) throw new Error("no canvas");
  c.fillStyle = "#ffffff"; c.fillRect(0, 0, canvas.width, canvas.height); c.drawImage(image, 0, 0);
  return new Promise((done, fail) => canvas.toBlob((blob) => (blob ? done(blob) : fail(new Error("no picture"))), "image/png"));
}
export function save(blob: Blob, name: string): void {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob); link.download = name; link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
}
