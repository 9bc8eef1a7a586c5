/** Surfaces of casts and how they look. */
import {
  BufferAttribute,
  BufferGeometry,
  Color,
  DoubleSide,
  LinearSRGBColorSpace,
  Mesh,
  ShaderMaterial,
} from 'three';
import type { Shapes } from '../../api/shapes';
import { FRAGMENT, VERTEX } from './casts.glsl';
import type { Arch, Surface } from './decode';

type Band = Shapes['BandOut'];
export type Paint = { bands: readonly Band[]; unknown: Band; stone: string };

const PATTERNS = ['solid', 'cross', 'lines', 'dots', 'sparse'];
const MOST_BANDS = 5;

/** The colour of the palette as it is: the shader writes what the screen shows. */
const plain = (hex: string): Color => new Color().setStyle(hex, LinearSRGBColorSpace);

/** One material for both casts, so that one number moves both. */
export function castMaterial(paint: Paint): ShaderMaterial {
  const rows = [...paint.bands, ...Array<Band>(MOST_BANDS).fill(paint.unknown)].slice(0, MOST_BANDS);
  const all = [...rows, paint.unknown];
  return new ShaderMaterial({
    vertexShader: VERTEX,
    fragmentShader: FRAGMENT,
    side: DoubleSide,
    uniforms: {
      closed: { value: 0 },
      bands: { value: paint.bands.length },
      upto: { value: rows.map((band) => band.upto_mm) },
      colour: { value: all.map((band) => plain(band.colour)) },
      ink: { value: all.map((band) => plain(band.ink)) },
      pattern: { value: all.map((band) => PATTERNS.indexOf(band.pattern)) },
      pitch: { value: all.map((band) => band.pitch_mm) },
      stroke: { value: all.map((band) => band.stroke_mm) },
      stone: { value: plain(paint.stone) },
      lineInk: { value: plain('#16181d') },
      showBands: { value: true },
      grey: { value: false },
      linePixels: { value: 1 },
    },
  });
}

/** The geometry of one arch; a scan by itself has no gap. */
export function castGeometry(surface: Surface | Arch): BufferGeometry {
  const geometry = new BufferGeometry();
  geometry.setAttribute('position', new BufferAttribute(surface.positions, 3));
  geometry.setAttribute('shape', new BufferAttribute(surface.normals, 4, true));
  geometry.setIndex(new BufferAttribute(surface.faces, 1));
  if ('turn' in surface) {
    geometry.setAttribute('turn', new BufferAttribute(surface.turn, 1));
    geometry.setAttribute('radius', new BufferAttribute(surface.radius, 1));
    geometry.setAttribute('state', new BufferAttribute(surface.state, 1));
  }
  geometry.computeBoundingBox();
  geometry.computeBoundingSphere();
  return geometry;
}

export const cast = (surface: Surface | Arch, material: ShaderMaterial): Mesh =>
  new Mesh(castGeometry(surface), material);
