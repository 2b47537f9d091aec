// Makes a photo small enough to send: longest side 1600, JPEG. Only its pixels are drawn, so
// where and with what it was taken stays behind.
const LONGEST_SIDE = 1600;
const QUALITY = 0.82;
const MOST_BYTES = 50 * 1024 * 1024;
// What the yard takes of one photo.
const MOST_SENT_BYTES = 12 * 1024 * 1024;
const MOST_PIXELS = 120_000_000;

// A file that is no picture this phone can read, in words for whoever chose it.
export class NoPicture extends Error {}

export async function shrink(file) {
  if (file.size > MOST_BYTES) {
    const megabytes = Math.round(file.size / 1024 / 1024);
    throw new NoPicture(
      `“${file.name}” has ${megabytes} MB, more than any photo: choose one under 50 MB.`,
    );
  }
  const [wide, high] = sizeOf(new Uint8Array(await file.slice(0, 256 * 1024).arrayBuffer())) ?? [
    0, 0,
  ];
  if (wide * high > MOST_PIXELS) {
    throw new NoPicture(
      `“${file.name}” is ${wide} × ${high} dots, too many for this phone: choose a smaller one.`,
    );
  }
  const picture = await createImageBitmap(file).catch(() => null);
  if (picture && keepsPlace(file)) {
    picture.close();
    return file;
  }
  if (!picture)
    throw new NoPicture(
      `“${file.name}” is no picture this phone can read: take a photo, or choose a JPEG.`,
    );
  return drawn(picture, file.name);
}

// A yard that keeps where photos were taken gets a JPEG as it was taken.
function keepsPlace(file) {
  const { keepPlace } = document.body.dataset;
  return keepPlace !== undefined && file.type === "image/jpeg" && file.size <= MOST_SENT_BYTES;
}

async function drawn(picture, name) {
  const share = Math.min(1, LONGEST_SIDE / Math.max(picture.width, picture.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(picture.width * share));
  canvas.height = Math.max(1, Math.round(picture.height * share));
  canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close();
  const blob = await new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", QUALITY));
  if (!blob)
    throw new NoPicture(`“${name}” could not be made smaller on this phone: take it again.`);
  return blob;
}

// Width and height as the head of a PNG or JPEG says, before any of it is unpacked; null else.
function sizeOf(bytes) {
  const view = new DataView(bytes.buffer);
  if (bytes.length > 24 && view.getUint32(0) === 0x89504e47)
    return [view.getUint32(16), view.getUint32(20)];
  if (bytes.length < 4 || view.getUint16(0) !== 0xffd8) return null;
  for (let at = 2; at + 9 < bytes.length && bytes[at] === 0xff; at += 2 + view.getUint16(at + 2)) {
    const kind = bytes[at + 1];
    // Frames of every coding but the tables that share their range.
    const isFrame = kind >= 0xc0 && kind <= 0xcf && ![0xc4, 0xc8, 0xcc].includes(kind);
    if (isFrame) return [view.getUint16(at + 7), view.getUint16(at + 5)];
  }
  return null;
}
