/** The picture in space: casts, instrument and labels in one canvas, drawn only when something has changed. */
import {
  Group,
  Matrix4,
  type Mesh,
  PerspectiveCamera,
  Scene,
  type ShaderMaterial,
  Vector2,
  Vector3,
  type Vector4,
  WebGLRenderer,
} from 'three';
import type { Shapes } from '../../api/shapes';
import { cast, castMaterial, type Paint } from './casts';
import { keyed, listen, type Hands, type Spot } from './controls';
import type { Arch, Surface } from './decode';
import { free, instrument, type Tints } from './instrument';
import type { Ink } from './atlas';
import { makeLabels, type Label, type Labels } from './labels';
import { isIn, picked, within, type Tap } from './pick';
import { uncovered } from './thin';
import {
  around,
  beside,
  boxOf,
  mirrored,
  panes,
  type Boxes,
  type Pane,
  type Shown,
  type View,
} from './panes';
import {
  across,
  between,
  basis,
  eye,
  FOV,
  framing,
  moved,
  turned,
  zoomed,
  type Box,
  type Rig,
  type Vec,
} from './rig';

export type { Tap } from './pick';
export type ArchName = 'upper' | 'lower';
export type Parts = {
  arches: Partial<Record<ArchName, Arch | Surface>>;
  lines: readonly Shapes['LineOut'][];
  paint: Paint;
};
export type Colours = Ink & { tints: Tints };
export type Told = {
  tap: (tap: Tap | null) => void;
  /** Called with every picture that was drawn. */
  drew: (panes: readonly Pane[]) => void;
  /** A person turned, moved or zoomed. */
  touched: () => void;
  lost: () => void;
};
/** A rigid motion by its rows, mm. */
export type Rows = Shapes['MotionStepOut']['moved'];
export type Stage = {
  show: (view: View, quiet?: boolean) => void;
  /** Looks at everything there is from a direction. */
  face: (yaw: number, pitch: number, quiet?: boolean) => void;
  only: (shown: Partial<Shown>) => void;
  close: (rad: number) => void;
  /** The lower moved from where the record holds it, by rows; `rad` where that is closing and nothing else: bands hold then. */
  move: (rows: Rows, rad: number | null) => void;
  label: (labels: readonly Label[]) => void;
  /** Whether numbers stand on the contour lines: not while these move. */
  numbers: (shown: boolean) => void;
  look: (how: { grey: boolean; bands: boolean }) => void;
  lookAt: (places: Partial<Record<ArchName, Vec>>) => void;
  key: (event: KeyboardEvent) => boolean;
  fit: () => void;
  dispose: () => void;
};

const MOVE_MS = 320;
const REST_MS = 140;
const NEAR_MM = 34;
const MOST_PIXELS = 2;
/** Names under which every frame's script time is kept for whoever measures. */
export const FRAME = 'mountproof.frame';
const KEPT_FRAMES = 600;

/** Software that draws without a graphics card: slow enough to do without smooth edges. */
const SLOW = /swiftshader|llvmpipe|software/i;

function isSlow(): boolean {
  const gl = document.createElement('canvas').getContext('webgl2');
  const info = gl?.getExtension('WEBGL_debug_renderer_info');
  const name: unknown = info ? gl?.getParameter(info.UNMASKED_RENDERER_WEBGL) : '';
  gl?.getExtension('WEBGL_lose_context')?.loseContext();
  return typeof name === 'string' && SLOW.test(name);
}

/** Whether this browser can draw in space at all. */
export function canDraw(): boolean {
  const gl = document.createElement('canvas').getContext('webgl2');
  gl?.getExtension('WEBGL_lose_context')?.loseContext();
  return gl !== null;
}

function boxOfMesh(mesh: Mesh | undefined): Box | null {
  const box = mesh?.geometry.boundingBox;
  if (!box) return null;
  return { low: [box.min.x, box.min.y, box.min.z], high: [box.max.x, box.max.y, box.max.z] };
}

/** The box of all vertices that belong to a tooth. */
function teethOf(arch: Arch | Surface | undefined): Box | null {
  if (arch === undefined || !('tooth' in arch)) return null;
  const low: [number, number, number] = [Infinity, Infinity, Infinity];
  const high: [number, number, number] = [-Infinity, -Infinity, -Infinity];
  const { tooth, positions } = arch;
  for (let k = 0; k < tooth.length; k += 1) {
    if (tooth[k] === 0) continue;
    for (const axis of [0, 1, 2] as const) {
      const value = positions[3 * k + axis] ?? 0;
      low[axis] = Math.min(low[axis], value);
      high[axis] = Math.max(high[axis], value);
    }
  }
  return low[0] === Infinity ? null : { low, high };
}

/** Sets the picture up in a canvas. Throws where the browser cannot draw in space. */
export function makeStage(canvas: HTMLCanvasElement, parts: Parts, colours: Colours, told: Told): Stage {
  const slow = isSlow();
  const renderer = new WebGLRenderer({
    canvas,
    antialias: !slow,
    alpha: true,
    powerPreference: 'high-performance',
  });
  renderer.setScissorTest(true);
  renderer.autoClear = false;
  const ratio = slow ? 1 : Math.min(devicePixelRatio, MOST_PIXELS);
  renderer.setPixelRatio(ratio);

  const scene = new Scene();
  const camera = new PerspectiveCamera((FOV * 180) / Math.PI);
  const material: ShaderMaterial = castMaterial(parts.paint);
  const meshes: Partial<Record<ArchName, Mesh>> = {};
  const lower = new Group();
  lower.matrixAutoUpdate = false;
  for (const name of ['upper', 'lower'] as const) {
    const surface = parts.arches[name];
    if (surface === undefined) continue;
    const mesh = cast(surface, material);
    meshes[name] = mesh;
    (name === 'lower' ? lower : scene).add(mesh);
  }
  scene.add(lower);
  const { stands, turns } = instrument(parts.lines, colours.tints);
  scene.add(stands);
  lower.add(turns);

  const points = parts.lines.flatMap((line) => line.points_mm);
  const boxes: Boxes = {
    upper: boxOfMesh(meshes.upper),
    lower: boxOfMesh(meshes.lower),
    upperTeeth: teethOf(parts.arches.upper),
    lowerTeeth: teethOf(parts.arches.lower),
    frame: boxOf(points) ??
      boxOfMesh(meshes.upper) ??
      boxOfMesh(meshes.lower) ?? { low: [0, -60, -55], high: [110, 0, 55] },
  };

  const size = across(around([boxes.upper, boxes.lower]) ?? boxes.frame);

  let view: View = 'both';
  let shown: Pane[] = [];
  let labels: Labels | null = null;
  /** Where the lower stands, from where the record holds it. */
  const pose = new Matrix4();
  /** How far it is closed about the hinge; null where it stands otherwise. */
  let closed: number | null = 0;
  let banded = true;
  let asked = 0;
  let rest: ReturnType<typeof setTimeout> | undefined;
  let going: { from: Rig[]; to: Rig[]; start: number } | null = null;
  let gone = false;
  let numbered = true;

  const aspect = () => Math.max(canvas.clientWidth, 1) / Math.max(canvas.clientHeight, 1);
  const aspectOf = (pane: Pane) => (aspect() * pane.wide) / pane.high;
  const calm = () => matchMedia('(prefers-reduced-motion: reduce)').matches;

  function draw(now: number): void {
    const begun = performance.now();
    asked = 0;
    if (gone) return;
    if (going !== null) {
      const part = Math.min((now - going.start) / MOVE_MS, 1);
      const { from, to } = going;
      shown = shown.map((pane, k) => ({
        ...pane,
        rig: between(from[k] ?? pane.rig, to[k] ?? pane.rig, part),
      }));
      if (part === 1) going = null;
      wake();
    }
    const [wide, high] = [canvas.clientWidth, canvas.clientHeight];
    renderer.setScissor(0, 0, wide, high);
    renderer.setViewport(0, 0, wide, high);
    renderer.clear();
    for (const pane of shown) paint(pane, wide, high);
    told.drew(shown);
    performance.measure(FRAME, { start: begun, end: performance.now() });
    if (performance.getEntriesByName(FRAME).length > KEPT_FRAMES) performance.clearMeasures(FRAME);
  }

  function paint(pane: Pane, wide: number, high: number): void {
    const [w, h] = [pane.wide * wide, pane.high * high];
    const bottom = (1 - pane.top - pane.high) * high;
    renderer.setViewport(pane.left * wide, bottom, w, h);
    renderer.setScissor(pane.left * wide, bottom, w, h);
    aim(pane, aspectOf(pane));
    if (meshes.upper) meshes.upper.visible = pane.shown.upper;
    if (meshes.lower) meshes.lower.visible = pane.shown.lower;
    stands.visible = pane.shown.frame;
    turns.visible = pane.shown.frame;
    if (labels !== null) {
      const { uniforms } = labels.material;
      (uniforms['screen']?.value as Vector2).set(w, h);
      const { upper: up, lower: low, frame } = pane.shown;
      (uniforms['groups']?.value as Vector4).set(up ? 1 : 0, low ? 1 : 0, frame ? 1 : 0, 1);
    }
    renderer.render(scene, camera);
  }

  function aim(pane: Pane, paneAspect: number): void {
    const { rig } = pane;
    const { up } = basis(rig);
    camera.aspect = paneAspect;
    camera.near = Math.max(rig.distance - 2.5 * size, rig.distance * 0.04);
    camera.far = rig.distance + 4 * size;
    camera.position.set(...eye(rig));
    camera.up.set(...up);
    camera.lookAt(...rig.target);
    camera.updateProjectionMatrix();
    camera.updateMatrixWorld();
  }

  function wake(): void {
    if (asked === 0 && !gone) asked = requestAnimationFrame(draw);
  }

  /** Once nothing has moved for a moment, numbers that would cover each other are left out. */
  function settle(): void {
    clearTimeout(rest);
    rest = setTimeout(thin, REST_MS);
  }

  function thin(): void {
    if (labels === null || gone) return;
    const size = { wide: canvas.clientWidth, high: canvas.clientHeight };
    const aimed = shown.map((pane) => {
      aim(pane, aspectOf(pane));
      return { pane, matrix: camera.projectionMatrix.clone().multiply(camera.matrixWorldInverse) };
    });
    const kept = uncovered(labels, aimed, size, pose);
    labels.only((label, k) => kept.has(k) && (numbered || label.style !== 'contour'));
    wake();
  }

  function change(pane: Pane, rig: Rig): void {
    going = null;
    const [one, other] = shown;
    if (other !== undefined && one !== undefined) {
      const before = pane.rig.target;
      const [dx, dy, dz] = [rig.target[0] - before[0], rig.target[1] - before[1], rig.target[2] - before[2]];
      shown = shown.map((each) => {
        if (each === pane) return { ...each, rig };
        const at = each.rig.target;
        return { ...each, rig: mirrored(rig, [at[0] + dx, at[1] - dy, at[2] + dz]) };
      });
    } else shown = [{ ...pane, rig }];
    told.touched();
    wake();
    settle();
  }

  function go(to: readonly Rig[], quiet: boolean): void {
    if (quiet || calm() || to.length !== shown.length) {
      going = null;
      shown = shown.map((pane, k) => ({ ...pane, rig: to[k] ?? pane.rig }));
    } else {
      going = { from: shown.map((pane) => pane.rig), to: [...to], start: performance.now() };
    }
    wake();
    settle();
  }

  const stick = (to: Labels) => (to.material.uniforms['moved']?.value as Matrix4 | undefined)?.copy(pose);

  /** Puts the lower where `pose` says. The gap in bands is known along closing only. */
  function stand(rad: number | null): void {
    closed = rad;
    lower.matrix.copy(pose);
    lower.matrixWorldNeedsUpdate = true;
    const { uniforms } = material;
    if (uniforms['closed'] && rad !== null) uniforms['closed'].value = rad;
    if (uniforms['showBands']) uniforms['showBands'].value = banded && rad !== null;
    if (labels !== null) stick(labels);
    wake();
  }

  const paneAt = (at: Spot): Pane | undefined => shown.find((pane) => isIn(pane, at));

  function pick(at: Spot): Tap | null {
    const pane = paneAt(at);
    if (pane === undefined) return null;
    aim(pane, aspectOf(pane));
    lower.updateMatrixWorld(true);
    return picked(camera, within(pane, at), meshes, pane.shown);
  }

  const limits = [0.1 * size, 14 * size] as const;
  const hands: Hands = {
    turn(right, up, at) {
      const pane = paneAt(at) ?? shown[0];
      if (pane !== undefined) change(pane, turned(pane.rig, { yaw: right * 1.4, pitch: up * 1.4 }));
    },
    move(right, up, at) {
      const pane = paneAt(at) ?? shown[0];
      if (pane !== undefined) change(pane, moved(pane.rig, right / pane.high, up / pane.high));
    },
    zoom(by, at) {
      const pane = paneAt(at) ?? shown[0];
      if (pane !== undefined) change(pane, zoomed(pane.rig, by, ...limits));
    },
    tap: (at) => told.tap(pick(at)),
  };
  const unlisten = listen(canvas, hands);

  function fit(): void {
    const [wide, high] = [canvas.clientWidth, canvas.clientHeight];
    if (wide === 0 || high === 0) return;
    renderer.setSize(wide, high, false);
    const split = shown.length === 2 ? (shown[1]?.left ?? 0) > 0 : null;
    if (shown.length === 0 || (split !== null && split !== beside(aspect()))) {
      shown = panes(view, boxes, aspect()).map((pane, k) => ({
        ...pane,
        shown: shown[k]?.shown ?? pane.shown,
      }));
    }
    wake();
    settle();
  }
  const watcher = new ResizeObserver(fit);
  watcher.observe(canvas);

  const lost = (event: Event) => {
    event.preventDefault();
    told.lost();
  };
  canvas.addEventListener('webglcontextlost', lost);
  canvas.addEventListener('webglcontextrestored', wake);

  return {
    show(next, quiet = false) {
      const made = panes(next, boxes, aspect());
      const same = next === 'both' ? view === 'both' : view !== 'both';
      const before = shown;
      view = next;
      shown =
        same && before.length === made.length
          ? made.map((pane, k) => ({ ...pane, rig: before[k]?.rig ?? pane.rig }))
          : made;
      go(
        made.map((pane) => pane.rig),
        quiet,
      );
    },
    face(yaw, pitch, quiet = false) {
      const box = around([boxes.upper, boxes.lower]) ?? boxes.frame;
      const all = { upper: true, lower: true, frame: true };
      const rig = framing(box, yaw, pitch, aspect());
      view = 'whole';
      shown = [
        {
          left: 0,
          top: 0,
          wide: 1,
          high: 1,
          rig: shown.length === 1 && shown[0] ? shown[0].rig : rig,
          shown: all,
        },
      ];
      go([rig], quiet);
    },
    only(what) {
      shown = shown.map((pane) => ({ ...pane, shown: { ...pane.shown, ...what } }));
      wake();
      settle();
    },
    close(rad) {
      pose.makeRotationZ(rad);
      stand(rad);
    },
    move(rows, rad) {
      const [a, b, c, d] = rows;
      pose.set(...a, ...b, ...c, ...d);
      stand(rad);
      settle();
    },
    label(list) {
      labels?.mesh.removeFromParent();
      labels?.dispose();
      labels = list.length === 0 ? null : makeLabels(list, colours, ratio);
      if (labels !== null) {
        scene.add(labels.mesh);
        stick(labels);
        thin();
      }
      wake();
    },
    numbers(on) {
      if (on === numbered) return;
      numbered = on;
      thin();
    },
    look({ grey, bands }) {
      const { uniforms } = material;
      if (uniforms['grey']) uniforms['grey'].value = grey;
      banded = bands;
      if (uniforms['showBands']) uniforms['showBands'].value = banded && closed !== null;
      wake();
    },
    lookAt(places) {
      const turnedLower = (at: Vec): Vec => {
        const { x, y, z } = new Vector3(...at).applyMatrix4(pose);
        return [x, y, z];
      };
      const to = shown.map((pane) => {
        const place =
          pane.shown.lower && !pane.shown.upper ? places.lower && turnedLower(places.lower) : places.upper;
        return place ? { ...pane.rig, target: place, distance: NEAR_MM / Math.tan(FOV / 2) / 2 } : pane.rig;
      });
      go(to, false);
    },
    key: (event) => keyed(event, hands),
    fit,
    dispose() {
      gone = true;
      cancelAnimationFrame(asked);
      clearTimeout(rest);
      watcher.disconnect();
      unlisten();
      canvas.removeEventListener('webglcontextlost', lost);
      canvas.removeEventListener('webglcontextrestored', wake);
      labels?.dispose();
      free(stands);
      free(turns);
      for (const mesh of Object.values(meshes)) mesh.geometry.dispose();
      material.dispose();
      renderer.dispose();
      renderer.forceContextLoss();
    },
  };
}
