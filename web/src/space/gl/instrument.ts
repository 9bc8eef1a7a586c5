/** The lines of the instrument as round bars, and its flat parts as panes one can look through. */
import {
  BufferGeometry,
  Color,
  CylinderGeometry,
  DoubleSide,
  Float32BufferAttribute,
  Group,
  Mesh,
  MeshBasicMaterial,
  SphereGeometry,
  Vector3,
} from 'three';
import type { Shapes } from '../../api/shapes';

type Line = Shapes['LineOut'];
export type Tints = { hinge: string; pin: string; plane: string };

const RADIUS: Record<Line['kind'], number> = { hinge: 0.55, pin: 1.1, table: 0.35, plane: 0.3 };
const UP = new Vector3(0, 1, 0);

function bar(from: Vector3, to: Vector3, radius: number, material: MeshBasicMaterial): Mesh {
  const way = to.clone().sub(from);
  const mesh = new Mesh(new CylinderGeometry(radius, radius, way.length(), 12), material);
  mesh.position.copy(from).addScaledVector(way, 0.5);
  mesh.quaternion.setFromUnitVectors(UP, way.normalize());
  return mesh;
}

function ball(at: Vector3, radius: number, material: MeshBasicMaterial): Mesh {
  const mesh = new Mesh(new SphereGeometry(radius, 20, 14), material);
  mesh.position.copy(at);
  return mesh;
}

function sheet(points: readonly Vector3[], colour: Color, opacity: number): Mesh {
  const geometry = new BufferGeometry();
  geometry.setAttribute(
    'position',
    new Float32BufferAttribute(
      points.slice(0, 4).flatMap((p) => p.toArray()),
      3,
    ),
  );
  geometry.setIndex([0, 1, 2, 0, 2, 3]);
  const material = new MeshBasicMaterial({
    color: colour,
    opacity,
    transparent: true,
    side: DoubleSide,
    depthWrite: false,
  });
  const mesh = new Mesh(geometry, material);
  mesh.renderOrder = 5;
  return mesh;
}

function drawn(line: Line, tints: Tints): Group {
  const points = line.points_mm.map(([x, y, z]) => new Vector3(x, y, z));
  const tint = new Color(
    line.kind === 'hinge' ? tints.hinge : line.kind === 'plane' ? tints.plane : tints.pin,
  );
  const material = new MeshBasicMaterial({ color: tint });
  const group = new Group();
  points.slice(1).forEach((to, at) => {
    const from = points[at];
    if (from !== undefined) group.add(bar(from, to, RADIUS[line.kind], material));
  });
  if (line.kind === 'hinge') for (const end of points) group.add(ball(end, 2, material));
  if (line.kind === 'pin') for (const end of points.slice(-1)) group.add(ball(end, 1.1, material));
  if (line.kind === 'table') group.add(sheet(points, tint, 0.3));
  if (line.kind === 'plane') group.add(sheet(points, tint, 0.1));
  return group;
}

/** Everything of the instrument: what stands, and what turns with the lower. */
export function instrument(lines: readonly Line[], tints: Tints): { stands: Group; turns: Group } {
  const [stands, turns] = [new Group(), new Group()];
  for (const line of lines) (line.moves ? turns : stands).add(drawn(line, tints));
  return { stands, turns };
}

/** Frees what a group holds. */
export function free(group: Group): void {
  group.traverse((part) => {
    if (!(part instanceof Mesh)) return;
    (part.geometry as BufferGeometry).dispose();
    (part.material as MeshBasicMaterial).dispose();
  });
  group.removeFromParent();
}
