/** Where a tap falls: the first surface on its way, the face, and how much each corner of that counts. */
import { type Mesh, type PerspectiveCamera, Raycaster, Vector2 } from 'three';
import type { Spot } from './controls';
import type { Pane, Shown } from './panes';
import type { Vec } from './rig';

/** `at`: the place on the arch as it was given, before the lower was turned. */
export type Tap = { arch: 'upper' | 'lower'; face: number; weights: [number, number, number]; at: Vec };

export const isIn = (pane: Pane, at: Spot): boolean =>
  at.x >= pane.left && at.x <= pane.left + pane.wide && at.y >= pane.top && at.y <= pane.top + pane.high;

/** A spot of the whole picture as three counts it within a part: -1 to 1 from the left and from below. */
export const within = (pane: Pane, at: Spot): Vector2 =>
  new Vector2(((at.x - pane.left) / pane.wide) * 2 - 1, 1 - ((at.y - pane.top) / pane.high) * 2);

export function picked(
  camera: PerspectiveCamera,
  spot: Vector2,
  meshes: Partial<Record<'upper' | 'lower', Mesh>>,
  shown: Shown,
): Tap | null {
  const ray = new Raycaster();
  ray.setFromCamera(spot, camera);
  const [first] = (['upper', 'lower'] as const)
    .filter((name) => shown[name])
    .flatMap((arch) => {
      const mesh = meshes[arch];
      const [hit] = mesh === undefined ? [] : ray.intersectObject(mesh, false);
      return hit === undefined ? [] : [{ arch, hit }];
    })
    .sort((a, b) => a.hit.distance - b.hit.distance);
  const weights = first?.hit.barycoord;
  const face = first?.hit.faceIndex;
  if (first === undefined || !weights || face === undefined || face === null) return null;
  const { x, y, z } = first.hit.object.worldToLocal(first.hit.point.clone());
  return { arch: first.arch, face, weights: [weights.x, weights.y, weights.z], at: [x, y, z] };
}
