import { effect } from '@preact/signals';
import { useEffect, useRef, useState } from 'preact/hooks';
import type { Shapes } from '../../api/shapes';
import { t } from '../../app/words';
import { Notice } from '../../app/ui';
import type { Arch } from '../gl/decode';
import type { Pane } from '../gl/panes';
import { makeStage, type ArchName, type Colours, type Stage } from '../gl/stage';
import { Compass, pointTo, type Needle } from './Compass';
import { Edges, edgesOf } from './Edges';
import { labelsOf, movingLabels } from './marks';
import { position, shown } from './motion';
import { chosen, rests, scene, step, stop, type SceneOut } from './scene';
import { point, there } from './taps';
import { bands, grey, numbers, only, view } from './view';

type Props = { caseId: number; of: SceneOut; arches: Partial<Record<ArchName, Arch>> };

/** The colours of the page as they are now. */
export function coloursOf(place: Element): Colours {
  const style = getComputedStyle(place);
  const of = (name: string) => style.getPropertyValue(name).trim();
  return {
    ink: of('--ink'),
    ground: of('--sheet'),
    accent: of('--accent'),
    accentInk: of('--accent-ink'),
    tints: { hinge: of('--accent'), pin: of('--ink-quiet'), plane: of('--doubtful') },
  };
}

const KEYS = 'ArrowLeft ArrowRight ArrowUp ArrowDown Shift+ArrowLeft Shift+ArrowRight + - Enter';

/** The picture itself. Everything in it is also told beside it. */
export function Canvas({ caseId, of, arches }: Props) {
  const canvas = useRef<HTMLCanvasElement>(null);
  const stage = useRef<Stage | null>(null);
  const needle = useRef<Needle>(null);
  const [sides, setSides] = useState<readonly string[]>([]);
  const [split, setSplit] = useState('one');
  const [lost, setLost] = useState(false);
  const [broken, setBroken] = useState(false);

  useEffect(() => {
    const place = canvas.current;
    if (place === null) return;
    const drew = (panes: readonly Pane[]) => {
      pointTo(needle.current, panes);
      const found = edgesOf(panes);
      setSides((before) => (before.join() === found.join() ? before : found));
      setSplit(panes.length === 1 ? 'one' : (panes[1]?.left ?? 0) > 0 ? 'beside' : 'over');
    };
    const told = {
      drew,
      // what stands at a place is told along closing only
      tap: (tap: Parameters<typeof point>[1]) => {
        if (shown.peek() === null) void point(caseId, tap);
      },
      touched: () => undefined,
      lost: () => setLost(true),
    };
    const paint = { bands: of.bands, unknown: of.unknown, stone: of.tooth_colour };
    let made: Stage;
    try {
      made = makeStage(place, { arches, lines: of.lines, paint }, coloursOf(place), told);
    } catch {
      setBroken(true);
      return;
    }
    stage.current = made;
    const restored = () => setLost(false);
    place.addEventListener('webglcontextrestored', restored);
    let first = true;
    const quits = [
      effect(() => {
        made.show(view.value, first);
        made.only(only.peek());
        first = false;
      }),
      effect(() => made.only(only.value)),
      effect(() => {
        const at = scene.value?.steps[step.value];
        const moving = position.value;
        if (moving === null) made.close(at?.closed_rad ?? 0);
        else made.move(moving.moved, moving.closed_rad);
      }),
      effect(() => made.look({ grey: grey.value, bands: bands.value })),
      effect(() => {
        const moving = position.value;
        if (moving !== null) {
          made.label(movingLabels(of.labels, moving.places));
          return;
        }
        const mark = there.value?.tap ?? null;
        made.label(labelsOf(of.labels, stop.value, chosen.value, mark));
      }),
      effect(() => made.numbers(numbers.value && rests.value)),
      effect(() => {
        const site = stop.peek()?.sites.find((one) => one.key === chosen.value);
        if (site !== undefined) made.lookAt({ upper: site.point_mm, lower: site.lower_point_mm });
      }),
    ];
    return () => {
      for (const quit of quits) quit();
      place.removeEventListener('webglcontextrestored', restored);
      stage.current = null;
      made.dispose();
    };
  }, [caseId, of, arches]);

  if (broken) return <NoSpace />;
  return (
    <div class="stage" data-split={split}>
      <canvas
        ref={canvas}
        class="stage-canvas"
        tabIndex={0}
        // An application is what has keys of its own; the rule knows no canvas that does.
        // eslint-disable-next-line jsx-a11y/no-interactive-element-to-noninteractive-role
        role="application"
        aria-label={t('space.canvas')}
        aria-describedby="space-keys"
        aria-keyshortcuts={KEYS}
        onKeyDown={(event) => {
          if (event.altKey || event.ctrlKey || event.metaKey) return;
          if (stage.current?.key(event)) event.preventDefault();
        }}
      />
      <Edges sides={sides} />
      <Compass needle={needle} right={of.right_words} left={of.left_words} />
      <span class="stage-cross" aria-hidden="true" />
      {lost ? (
        <div class="stage-lost">
          <Notice kind="ask">{t('space.lost')}</Notice>
        </div>
      ) : null}
    </div>
  );
}

/** Said where the browser cannot draw in space: everything else on the page still works. */
export function NoSpace() {
  return <Notice kind="note">{t('space.no_webgl')}</Notice>;
}

export type Line = Shapes['LineOut'];
