import { effect, useComputed } from '@preact/signals';
import { useEffect, useRef, useState } from 'preact/hooks';
import { api, ask } from '../../api/client';
import type { Outcome } from '../../api/outcome';
import type { Fault, Shapes } from '../../api/shapes';
import { Button, Faults, Notice, Progress, say } from '../../app/ui';
import { t } from '../../app/words';
import { draftsOf } from '../../entry/core/drafts';
import { NEW, stepsOf, under } from '../../entry/core/names';
import { put, type as keep, typedCase } from '../../entry/core/saving';
import { itemsAt, textOf, valueAt } from '../../entry/core/values';
import { readScan, type Surface } from '../gl/decode';
import { GROUP, type Label } from '../gl/labels';
import { across } from '../gl/rig';
import { canDraw, makeStage, type ArchName, type Stage, type Tap } from '../gl/stage';
import { coloursOf, NoSpace } from '../picture/Canvas';
import { surfaceBytes } from '../picture/fetching';
import { placeIn } from './numbers';
import { newPlace, nextTo, target } from './target';

type Mesh = Shapes['MeshOut'];
type Found = { mesh: Mesh; surface: Surface } | { faults: readonly Fault[] } | null;

/** Directions to look from, by the axes of the file: right and left are not known before the scan is placed. */
const FACES = [
  { name: '+x', yaw: 0, pitch: 0 },
  { name: '−x', yaw: Math.PI, pitch: 0 },
  { name: '+y', yaw: 0, pitch: Math.PI / 2 },
  { name: '−y', yaw: 0, pitch: -Math.PI / 2 },
  { name: '+z', yaw: Math.PI / 2, pitch: 0 },
  { name: '−z', yaw: -Math.PI / 2, pitch: 0 },
] as const;

const BARE = {
  colour: '#d6d6d6',
  ink: '#5a5a5a',
  pattern: 'solid',
  pitch_mm: 1,
  stroke_mm: 0,
  upto_mm: 0,
  words: '',
} as const;
const STONE = '#f6f4ef';

function useMesh(caseId: number, arch: ArchName, file: string): { found: Found; part: number | null } {
  const [found, setFound] = useState<Found>(null);
  const [part, setPart] = useState<number | null>(null);
  useEffect(() => {
    const stop = new AbortController();
    const gone = () => stop.signal.aborted;
    const load = async () => {
      const path = { params: { path: { id: caseId, arch } } };
      const got = (await ask(api.GET('/api/cases/{id}/scans/{arch}/mesh', path))) as Outcome<Mesh>;
      if (gone()) return;
      if (got.kind !== 'ok') {
        setFound({ faults: got.kind === 'faults' ? got.faults : [] });
        return;
      }
      const mesh = got.value;
      let came = 0;
      const bytes = await surfaceBytes(mesh.url, mesh.bytes, stop.signal, (more) => {
        came += more;
        setPart(came / Math.max(mesh.bytes, 1));
      });
      if (gone()) return;
      setPart(null);
      setFound('buffer' in bytes ? { mesh, surface: readScan(bytes.buffer, mesh) } : { faults: [] });
    };
    setFound(null);
    void load();
    return () => stop.abort();
  }, [caseId, arch, file]);
  return { found, part };
}

type Props = {
  caseId: number;
  arch: ArchName;
  placement: string;
  list: 'landmarks' | 'hinge_distances' | null;
  file: string;
};

/** The cast as it was scanned: a tap on it fills the place of a landmark. */
export function Picker({ caseId, arch, placement, list, file }: Props) {
  const { found, part } = useMesh(caseId, arch, file);
  if (!canDraw()) return <NoSpace />;
  if (part !== null) return <Progress words={t('space.fetching')} part={part} />;
  if (found === null) return <p class="quiet">{t('app.opening')}</p>;
  if ('faults' in found) {
    return found.faults.length > 0 ? (
      <Faults faults={found.faults} />
    ) : (
      <Notice kind="ask">{t('space.away')}</Notice>
    );
  }
  return <Tapped caseId={caseId} arch={arch} placement={placement} list={list} found={found} />;
}

type TappedProps = Omit<Props, 'file'> & { found: { mesh: Mesh; surface: Surface } };

function Tapped({ caseId, arch, placement, list, found }: TappedProps) {
  const canvas = useRef<HTMLCanvasElement>(null);
  const stage = useRef<Stage | null>(null);
  const [faults, setFaults] = useState<readonly Fault[]>([]);
  const goal = useRef<string | null>(null);
  goal.current = target.value ?? (list === null ? null : newPlace(placement, list));

  useEffect(() => {
    const place = canvas.current;
    if (place === null) return;
    const tap = async (hit: Tap | null) => {
      const field = goal.current;
      if (hit === null || field === null) return;
      const path = { path: { id: caseId, arch } };
      const body = { face: hit.face, weights: hit.weights };
      const call = api.POST('/api/cases/{id}/scans/{arch}/pick', { params: path, body });
      const got = (await ask(call)) as Outcome<Shapes['PickOut']>;
      setFaults(got.kind === 'faults' ? got.faults : []);
      if (got.kind !== 'ok') return;
      fill(caseId, field, got.value.point.join(' '));
      say(t('space.picked', { place: got.value.shown }));
      focusOn(nextTo(field));
    };
    const paint = { bands: [], unknown: BARE, stone: STONE };
    const told = {
      tap: (hit: Tap | null) => void tap(hit),
      drew: () => undefined,
      touched: () => undefined,
      lost: () => undefined,
    };
    const made = makeStage(
      place,
      { arches: { [arch]: found.surface }, lines: [], paint },
      coloursOf(place),
      told,
    );
    stage.current = made;
    made.face(flat(found.surface).yaw, flat(found.surface).pitch, true);
    const front = across(boxOf(found.surface)) / 60;
    const quit = effect(() => made.label(marks(caseId, placement, front)));
    return () => {
      quit();
      stage.current = null;
      made.dispose();
    };
  }, [caseId, arch, placement, found]);

  const named = useComputed(() => target.value);
  return (
    <div class="picker">
      <p>{t('space.pick')}</p>
      <fieldset class="row views-group">
        <legend class="field-label">{t('space.axes')}</legend>
        {FACES.map((face) => (
          <Button key={face.name} onClick={() => stage.current?.face(face.yaw, face.pitch)}>
            {face.name}
          </Button>
        ))}
      </fieldset>
      <div class="stage">
        <canvas
          ref={canvas}
          class="stage-canvas"
          tabIndex={0}
          // An application is what has keys of its own; the rule knows no canvas that does.
          // eslint-disable-next-line jsx-a11y/no-interactive-element-to-noninteractive-role
          role="application"
          aria-label={t(`space.pick_canvas.${arch}`)}
          aria-describedby="space-pick-keys"
          onKeyDown={(event) => {
            if (event.altKey || event.ctrlKey || event.metaKey) return;
            if (stage.current?.key(event)) event.preventDefault();
          }}
        />
        <span class="stage-cross" aria-hidden="true" />
      </div>
      <p id="space-pick-keys" class="small quiet">
        {t('space.pick_keys')} {t('space.no_sides')}
      </p>
      <Faults faults={faults} />
      <p class="small" aria-live="polite">
        {named.value === null || isNew(named.value) ? t('space.pick_new') : t('space.pick_into')}
      </p>
    </div>
  );
}

const isNew = (field: string): boolean => stepsOf(field).includes(NEW);

/** A place of a landmark that is there is saved at once; one in the making waits for its lengths. */
function fill(caseId: number, field: string, text: string): void {
  if (isNew(field)) keep(caseId, field, text);
  else put(caseId, field, text, t('space.picked_what'));
}

function focusOn(field: string): void {
  const boxes = [...document.querySelectorAll<HTMLElement>('[data-entry]')];
  const box = boxes.find((one) => one.dataset['entry'] === field);
  box?.focus({ preventScroll: true });
}

function boxOf({ positions }: Surface) {
  const low: [number, number, number] = [Infinity, Infinity, Infinity];
  const high: [number, number, number] = [-Infinity, -Infinity, -Infinity];
  positions.forEach((value, k) => {
    const axis = (k % 3) as 0 | 1 | 2;
    low[axis] = Math.min(low[axis], value);
    high[axis] = Math.max(high[axis], value);
  });
  return { low, high };
}

/** The side from which teeth are seen from above: across the flattest way, where most of the fine surface lies. */
function flat(surface: Surface): { yaw: number; pitch: number } {
  const { low, high } = boxOf(surface);
  const wide = [high[0] - low[0], high[1] - low[1], high[2] - low[2]];
  const axis = wide.indexOf(Math.min(...wide)) as 0 | 1 | 2;
  let sum = 0;
  for (let k = axis; k < surface.positions.length; k += 3) sum += surface.positions[k] ?? 0;
  const mean = sum / Math.max(surface.positions.length / 3, 1);
  return FACES[2 * axis + (mean > (low[axis] + high[axis]) / 2 ? 0 : 1)] ?? FACES[4];
}

/** Every place that is typed or saved, with the number of its landmark. */
function marks(caseId: number, placement: string, front: number): Label[] {
  const drafts = draftsOf(caseId);
  const mark = (text: string, field: string): Label[] => {
    const at = placeIn(drafts.get(field) ?? textOf(valueAt(typedCase.value, field)));
    return at === null ? [] : [{ text, style: 'landmark', at, moves: false, group: GROUP.always, front }];
  };
  const lists = (['landmarks', 'hinge_distances'] as const).flatMap((list) => [
    ...itemsAt(typedCase.value, under(placement, list)).flatMap((_, at) =>
      mark(`${at + 1}`, under(placement, list, at + 1, 'scan')),
    ),
    ...mark('+', newPlace(placement, list)),
  ]);
  const averages = (['incisors', 'right_molar', 'left_molar'] as const).flatMap((name, at) =>
    mark(`${at + 1}`, under(placement, 'average', name)),
  );
  return [...lists, ...averages];
}
