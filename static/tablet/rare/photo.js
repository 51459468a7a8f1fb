// ---- photos ---------------------------------------------------------------
// A photo waits on the tablet as a JPEG of at most 1600 pixels a side. Encoded
// anew it carries no place and no camera.

const longest = 1600;

/** @param {Blob} file @returns {Promise<Blob>} */
export async function shrink(file) {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  const scale = Math.min(1, longest / Math.max(picture.width, picture.height));
  const sheet = new OffscreenCanvas(Math.max(1, Math.round(picture.width * scale)), Math.max(1, Math.round(picture.height * scale)));
  const pen = /** @type {OffscreenCanvasRenderingContext2D} */ (sheet.getContext("2d"));
  pen.fillStyle = "white"; // under what is transparent
  pen.fillRect(0, 0, sheet.width, sheet.height);
  pen.imageSmoothingQuality = "high";
  pen.drawImage(picture, 0, 0, sheet.width, sheet.height);
  picture.close();
  return sheet.convertToBlob({ type: "image/jpeg", quality: 0.85 });
}

/** @type {Map<string, Promise<string>>} addresses by SHA-256 */
const pictures = new Map();

/** @param {string} hash */
function picture(hash) {
  const known = pictures.get(hash) ?? get("blobs", hash).then((blob) => (blob ? URL.createObjectURL(blob) : ""));
  pictures.set(hash, known);
  return known;
}

/** Puts the photo into what stands for it. @param {HTMLElement} place @param {string} hash */
async function showPhoto(place, hash) {
  const src = await picture(hash);
  if (!src || place.querySelector("img")) return;
  const image = document.createElement("img");
  Object.assign(image, { src, alt: say("kindPhoto") });
  place.append(image);
}
