/** Arrays of a surface out of the bytes that the server sent, without copying; the layout is written in the scene. */
export type Surface = { positions: Float32Array; faces: Uint32Array; normals: Int8Array };
export type Arch = Surface & {
  turn: Float32Array;
  radius: Float32Array;
  tooth: Uint8Array;
  state: Uint8Array;
};
type Sizes = { vertices: number; faces: number };

/** Bytes that do not have the length that was said are no surface. */
export class NotASurface extends Error {}

function reader(buffer: ArrayBuffer) {
  let at = 0;
  return <T>(
    make: new (of: ArrayBuffer, start: number, count: number) => T,
    count: number,
    width: number,
  ): T => {
    if (at + count * width > buffer.byteLength) throw new NotASurface();
    const found = new make(buffer, at, count);
    at += count * width;
    return found;
  };
}

/** One arch of the scene. Throws NotASurface. */
export function readArch(buffer: ArrayBuffer, { vertices: n, faces: m }: Sizes): Arch {
  const next = reader(buffer);
  const found = {
    positions: next(Float32Array, 3 * n, 4),
    turn: next(Float32Array, n, 4),
    radius: next(Float32Array, n, 4),
    faces: next(Uint32Array, 3 * m, 4),
    normals: next(Int8Array, 4 * n, 1),
    tooth: next(Uint8Array, n, 1),
    state: next(Uint8Array, n, 1),
  };
  if (buffer.byteLength !== 26 * n + 12 * m) throw new NotASurface();
  return found;
}

/** A scan as it lies in its file. Throws NotASurface. */
export function readScan(buffer: ArrayBuffer, { vertices: n, faces: m }: Sizes): Surface {
  const next = reader(buffer);
  const found = {
    positions: next(Float32Array, 3 * n, 4),
    faces: next(Uint32Array, 3 * m, 4),
    normals: next(Int8Array, 4 * n, 1),
  };
  if (buffer.byteLength !== 16 * n + 12 * m) throw new NotASurface();
  return found;
}
