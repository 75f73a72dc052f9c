// Pictures from bytes; the layout is told in the desk's frame.rs.

const HEADER = 48;
export const LEVELS = ["good", "clipping", "too-little", "silent"];

/** Takes a message apart; `null` if it is of another version. */
export function frame(buffer) {
  const view = new DataView(buffer);
  if (view.getUint8(0) !== 0x4d || view.getUint8(1) !== 1) return null;
  const [rows, bins, points, traces, tracePoints] = [2, 4, 6, 8, 10].map((at) => view.getUint16(at, true));
  const until = view.getFloat64(16, true);
  const picture = {
    number: view.getUint32(12, true),
    until,
    level: {
      peak: view.getFloat32(24, true),
      rms: view.getFloat32(28, true),
      clipped: view.getUint32(32, true),
      state: LEVELS[view.getUint8(36)],
    },
    tones: view.getUint8(37) ? [view.getFloat32(40, true), view.getFloat32(44, true)] : null,
    rows: [],
    eye: [],
  };
  let at = HEADER;
  for (let k = 0; k < rows; k++) {
    picture.rows.push({ at: until + view.getFloat32(at, true), db: new Int8Array(buffer, at + 4, bins) });
    at += 4 + bins;
  }
  picture.figure = new Int8Array(buffer, at, 2 * points);
  at += 2 * points;
  for (let k = 0; k < traces; k++) {
    picture.eye.push({ element: view.getUint8(at), points: new Int8Array(buffer, at + 1, tracePoints) });
    at += 1 + tracePoints;
  }
  return picture;
}
