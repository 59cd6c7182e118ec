// Reads the QR code of a label with the camera, where the browser can.

/** True where this browser reads QR codes and may use a camera. */
export async function canScan() {
  if (!("BarcodeDetector" in window) || !navigator.mediaDevices?.getUserMedia) return false;
  const formats = await window.BarcodeDetector.getSupportedFormats().catch(() => []);
  return formats.includes("qr_code");
}

function nextFrame() {
  return new Promise((resolve) => setTimeout(resolve, 150));
}

/** Show the camera in a <video> until a code is read or `signal` says stop; resolves with the text of the code, or "" when stopped. */
export async function scan(video, signal) {
  const detector = new window.BarcodeDetector({ formats: ["qr_code"] });
  const stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
  try {
    video.srcObject = stream;
    await video.play();
    while (!signal.aborted) {
      const [found] = await detector.detect(video);
      if (found) return found.rawValue;
      await nextFrame();
    }
    return "";
  } finally {
    for (const track of stream.getTracks()) track.stop();
    video.srcObject = null;
  }
}
