// A photo from the camera -> a small JPEG that carries the picture only: no place, no camera, no time.
const LONGEST_PX = 1280;
const MOST_CHARACTERS = 350_000; // as server/store/picture.py
const QUALITIES = [0.85, 0.7, 0.55];
const SMALLER = 0.75;
const [APP0, APP15, COMMENT, START_OF_SCAN] = [0xe0, 0xef, 0xfe, 0xda];

/** A JPEG without segments that describe it: some browsers write Exif of their own (ITU-T T.81, B.1: 0xFF, marker, length in two bytes). */
export function withoutMetadata(bytes) {
  const kept = [bytes.subarray(0, 2)];
  let place = 2;
  while (place + 4 <= bytes.length && bytes[place] === 0xff && bytes[place + 1] !== START_OF_SCAN) {
    const marker = bytes[place + 1];
    const next = place + 2 + bytes[place + 2] * 256 + bytes[place + 3];
    const describes = (marker > APP0 && marker <= APP15) || marker === COMMENT; // APP0 is JFIF: the shape only
    if (!describes) kept.push(bytes.subarray(place, next));
    place = next;
  }
  return new Blob([...kept, bytes.subarray(place)], { type: "image/jpeg" });
}

function base64(blob) {
  return new Promise((resolve, reject) => {
    const reader = new FileReader();
    reader.onload = () => resolve(reader.result.slice(reader.result.indexOf(",") + 1));
    reader.onerror = () => reject(reader.error);
    reader.readAsDataURL(blob);
  });
}

function drawn(bitmap, longest) {
  const scale = Math.min(1, longest / Math.max(bitmap.width, bitmap.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(bitmap.width * scale));
  canvas.height = Math.max(1, Math.round(bitmap.height * scale));
  const pen = canvas.getContext("2d");
  pen.fillStyle = "#fff";
  pen.fillRect(0, 0, canvas.width, canvas.height);
  pen.drawImage(bitmap, 0, 0, canvas.width, canvas.height);
  return canvas;
}

async function encoded(canvas, quality) {
  const blob = await new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", quality));
  return base64(withoutMetadata(new Uint8Array(await blob.arrayBuffer())));
}

/** {jpeg (base64), width, height} of an image file, upright, at most 1280 px. Throws an Error whose message is a sentence. */
export async function shrunk(file) {
  const bitmap = await createImageBitmap(file, { imageOrientation: "from-image" }).catch(() => null);
  if (!bitmap) throw new Error("This file is no picture that this tablet can read. Nothing was kept.");
  for (let longest = LONGEST_PX; ; longest = Math.round(longest * SMALLER)) {
    const canvas = drawn(bitmap, longest);
    for (const quality of QUALITIES) {
      const jpeg = await encoded(canvas, quality);
      if (jpeg.length <= MOST_CHARACTERS) return { jpeg, width: canvas.width, height: canvas.height };
    }
  }
}
