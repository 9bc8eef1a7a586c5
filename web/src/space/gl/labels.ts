/** All labels of the picture in one go: one thing to draw, however many there are. */
import {
  CanvasTexture,
  InstancedBufferAttribute,
  InstancedBufferGeometry,
  LinearFilter,
  Float32BufferAttribute,
  Matrix4,
  Mesh,
  ShaderMaterial,
  Vector2,
  Vector4,
} from 'three';
import { atlas, pieceOf, type Ink, type Style } from './atlas';
import { FRAGMENT, VERTEX } from './labels.glsl';
import type { Vec } from './rig';

/** Which labels are shown together: those of the upper, of the lower, of the instrument, and landmarks. */
export const GROUP = { upper: 0, lower: 1, frame: 2, always: 3 } as const;
export type Label = {
  text: string;
  style: Style;
  at: Vec;
  moves: boolean;
  group: (typeof GROUP)[keyof typeof GROUP];
  /** How far in front of its place it is drawn, mm, so that the surface does not cut it. */
  front: number;
};

export type Labels = {
  mesh: Mesh;
  material: ShaderMaterial;
  /** Hides and shows single labels. */
  only: (shown: (label: Label, at: number) => boolean) => void;
  list: readonly Label[];
  sizes: readonly (readonly [number, number])[];
  dispose: () => void;
};

const CORNERS = [-0.5, -0.5, 0, 0.5, -0.5, 0, 0.5, 0.5, 0, -0.5, 0.5, 0];

export function makeLabels(list: readonly Label[], look: Ink, scale: number): Labels {
  const { canvas, pieces } = atlas(list, look, scale);
  const texture = new CanvasTexture(canvas);
  texture.generateMipmaps = false;
  texture.minFilter = LinearFilter;
  texture.premultiplyAlpha = true;
  const [points, parts, sizes, ways]: [number[], number[], number[], number[]] = [[], [], [], []];
  for (const label of list) {
    const piece = pieceOf(pieces, label.text, label.style);
    points.push(...label.at);
    parts.push(piece?.left ?? 0, piece?.top ?? 0, piece?.right ?? 0, piece?.bottom ?? 0);
    sizes.push(piece?.wide ?? 0, piece?.high ?? 0);
    ways.push(label.moves ? 1 : 0, label.group, 1, label.front);
  }
  const geometry = new InstancedBufferGeometry();
  geometry.setAttribute('position', new Float32BufferAttribute(CORNERS, 3));
  geometry.setIndex([0, 1, 2, 0, 2, 3]);
  geometry.instanceCount = list.length;
  const attribute = (values: number[], width: number) =>
    new InstancedBufferAttribute(Float32Array.from(values), width);
  const way = attribute(ways, 4);
  geometry.setAttribute('point', attribute(points, 3));
  geometry.setAttribute('piece', attribute(parts, 4));
  geometry.setAttribute('size', attribute(sizes, 2));
  geometry.setAttribute('way', way);
  const material = new ShaderMaterial({
    vertexShader: VERTEX,
    fragmentShader: FRAGMENT,
    transparent: true,
    premultipliedAlpha: true,
    depthWrite: false,
    uniforms: {
      moved: { value: new Matrix4() },
      screen: { value: new Vector2(1, 1) },
      groups: { value: new Vector4(1, 1, 1, 1) },
      texts: { value: texture },
    },
  });
  const mesh = new Mesh(geometry, material);
  mesh.frustumCulled = false;
  mesh.renderOrder = 10;
  return {
    mesh,
    material,
    list,
    sizes: list.map((label) => {
      const piece = pieceOf(pieces, label.text, label.style);
      return [piece?.wide ?? 0, piece?.high ?? 0];
    }),
    only(shown) {
      list.forEach((label, at) => way.setZ(at, shown(label, at) ? 1 : 0));
      way.needsUpdate = true;
    },
    dispose() {
      geometry.dispose();
      material.dispose();
      texture.dispose();
    },
  };
}
