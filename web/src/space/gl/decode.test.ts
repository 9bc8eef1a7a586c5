import { expect, it } from 'vitest';
import { NotASurface, readArch, readScan } from './decode';

const bytesOf = (parts: readonly ArrayBufferView[]): ArrayBuffer => {
  const whole = new Uint8Array(parts.reduce((sum, part) => sum + part.byteLength, 0));
  let at = 0;
  for (const part of parts) {
    whole.set(new Uint8Array(part.buffer, part.byteOffset, part.byteLength), at);
    at += part.byteLength;
  }
  return whole.buffer;
};

const positions = Float32Array.from({ length: 9 }, (_, k) => k / 2);
const faces = Uint32Array.from([0, 1, 2, 2, 1, 0]);
const normals = Int8Array.from({ length: 12 }, (_, k) => k - 6);
const turn = Float32Array.from([0.1, 0.2, 0.3]);
const radius = Float32Array.from([70, 71, 72]);
const tooth = Uint8Array.from([16, 0, 46]);
const state = Uint8Array.from([1, 0, 2]);

it('reads every array of an arch where it lies', () => {
  const bytes = bytesOf([positions, turn, radius, faces, normals, tooth, state]);
  const found = readArch(bytes, { vertices: 3, faces: 2 });
  expect(found).toEqual({ positions, turn, radius, faces, normals, tooth, state });
});

it('reads a scan', () => {
  const found = readScan(bytesOf([positions, faces, normals]), { vertices: 3, faces: 2 });
  expect(found).toEqual({ positions, faces, normals });
});

it.each([
  { vertices: 4, faces: 2 },
  { vertices: 3, faces: 3 },
  { vertices: 3, faces: 1 },
])('refuses bytes of another length: %o', (sizes) => {
  const bytes = bytesOf([positions, turn, radius, faces, normals, tooth, state]);
  expect(() => readArch(bytes, sizes)).toThrow(NotASurface);
  expect(() => readScan(bytes, sizes)).toThrow(NotASurface);
});
