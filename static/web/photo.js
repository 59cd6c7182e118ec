// A photo made small enough to travel: drawn anew on this device, so that place, time and camera data stay behind.
const MOST_SIDE = 1280;
const MOST_CHARACTERS = 350_000;
const QUALITIES = [0.82, 0.7, 0.55, 0.4];

function drawn(bitmap, side) {
  const share = Math.min(1, side / Math.max(bitmap.width, bitmap.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(bitmap.width * share));
  canvas.height = Math.max(1, Math.round(bitmap.height * share));
  canvas.getContext("2d").drawImage(bitmap, 0, 0, canvas.width, canvas.height);
  return canvas;
}

/** {jpeg, width, height} of a picture file: base64 without a head, within 1280 px and 350 000 characters. Throws where the file is no picture. */
export async function shrunk(file) {
  const bitmap = await createImageBitmap(file, { imageOrientation: "from-image" });
  try {
    for (let side = MOST_SIDE; ; side = Math.round(side * 0.75)) {
      const canvas = drawn(bitmap, side);
      for (const quality of QUALITIES) {
        const jpeg = canvas.toDataURL("image/jpeg", quality).split(",")[1];
        if (jpeg.length <= MOST_CHARACTERS) return { jpeg, width: canvas.width, height: canvas.height };
      }
    }
  } finally {
    bitmap.close();
  }
}
