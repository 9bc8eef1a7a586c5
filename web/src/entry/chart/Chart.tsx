/** Teeth of both jaws, seen from occlusal, as the viewer stands before the patient: each can be given one of a few states. */
import { useId, useRef, useState } from 'preact/hooks';
import { say } from '../../app/ui';
import { t } from '../../app/words';
import { HEIGHT, PLACED, WIDTH, type Placed } from './shapes';
import { neighbour, numberOf, type Numbering, type Tooth } from './teeth';

export type ToothState = {
  key: string;
  words: string;
  /** Shown in the tooth, and the key that sets it. */
  letter: string;
  pattern: 'solid' | 'lines' | 'dots' | 'cross';
};

type Props = {
  label: string;
  numbering: Numbering;
  states: readonly ToothState[];
  /** The state of a tooth by its number in the case; undefined where nothing was said. */
  stateOf: (number: string) => string | undefined;
  /** What holds for teeth nothing was said of. */
  others?: { words: string; letter: string } | undefined;
  missing: readonly string[];
  onState: (number: string, state: string | undefined) => void;
};

export function toothWords(tooth: Tooth): string {
  const number = tooth.iso.slice(1);
  const right = tooth.iso.startsWith('1') || tooth.iso.startsWith('4');
  const jaw = t(tooth.jaw === 'upper' ? 'entry.jaw_upper' : 'entry.jaw_lower');
  const side = t(right ? 'entry.side_right' : 'entry.side_left');
  return t('entry.tooth', { jaw, side, tooth: t(`entry.tooth_${number as '1'}`) });
}

export function Chart(props: Props) {
  const { numbering, states, stateOf, missing, onState } = props;
  const id = useId();
  const frame = useRef<SVGSVGElement>(null);
  const [current, setCurrent] = useState('11');
  const set = (tooth: Tooth, state: ToothState | undefined) => {
    const number = numberOf(tooth, numbering);
    onState(number, state?.key);
    say(`${number}: ${state?.words ?? props.others?.words ?? t('entry.nothing_said')}`);
  };
  const next = (tooth: Tooth) => {
    const now = states.findIndex((state) => state.key === stateOf(numberOf(tooth, numbering)));
    set(tooth, states[now + 1]);
  };
  const onKeyDown = (tooth: Tooth, event: KeyboardEvent) => {
    const plain = !event.ctrlKey && !event.metaKey && !event.altKey;
    const to = plain ? neighbour(tooth, event.key) : undefined;
    const state = plain
      ? states.find((one) => one.letter.toLowerCase() === event.key.toLowerCase())
      : undefined;
    const dead = missing.includes(numberOf(tooth, numbering));
    if (to !== undefined) {
      setCurrent(to.iso);
      frame.current?.querySelector<SVGGElement>(`[data-tooth="${to.iso}"]`)?.focus();
    } else if (dead) return;
    else if (event.key === ' ' || event.key === 'Enter') next(tooth);
    else if (state !== undefined) set(tooth, state);
    else if (event.key === 'Delete' || event.key === 'Backspace') set(tooth, undefined);
    else return;
    event.preventDefault();
    event.stopPropagation();
  };
  return (
    <figure class="chart">
      <svg
        ref={frame}
        viewBox={`0 0 ${WIDTH} ${HEIGHT}`}
        role="group"
        aria-label={props.label}
        aria-describedby={`${id}-keys`}
      >
        <Patterns id={id} />
        <g class="chart-words" aria-hidden="true">
          <text x={WIDTH / 2} y={HEIGHT / 2 - 96} class="chart-jaw">
            {t('entry.upper')}
          </text>
          <text x={WIDTH / 2} y={HEIGHT / 2 + 108} class="chart-jaw">
            {t('entry.lower')}
          </text>
          <text x={150} y={HEIGHT / 2 + 6} class="chart-side chart-side-right">
            {t('entry.patient_right')}
          </text>
          <text x={WIDTH - 150} y={HEIGHT / 2 + 6} class="chart-side chart-side-left">
            {t('entry.patient_left')}
          </text>
        </g>
        {PLACED.map((placed) => {
          const { tooth } = placed;
          const number = numberOf(tooth, numbering);
          const gone = missing.includes(number);
          const state = gone ? undefined : states.find((one) => one.key === stateOf(number));
          const said = gone
            ? t('entry.missing')
            : (state?.words ?? props.others?.words ?? t('entry.nothing_said'));
          return (
            <g
              key={tooth.iso}
              class={`tooth ${gone ? 'tooth-gone' : ''}`}
              role="button"
              tabindex={tooth.iso === current ? 0 : -1}
              aria-label={`${number}, ${toothWords(tooth)}: ${said}`}
              aria-disabled={gone}
              data-tooth={tooth.iso}
              data-number={number}
              data-state={state?.key ?? ''}
              onClick={() => {
                setCurrent(tooth.iso);
                if (!gone) next(tooth);
              }}
              onKeyDown={(event) => onKeyDown(tooth, event)}
            >
              <ToothShape placed={placed} state={state} id={id} />
              <text x={placed.labelX} y={placed.labelY} class="tooth-number">
                {number}
              </text>
            </g>
          );
        })}
        {/* Letters are for the eye: the words of each tooth say the same. */}
        <g aria-hidden="true" class="chart-letters">
          {PLACED.map((placed) => {
            const number = numberOf(placed.tooth, numbering);
            const gone = missing.includes(number);
            const state = gone ? undefined : states.find((one) => one.key === stateOf(number));
            const letter = letterOf(gone, state, props.others);
            return (
              <Letter key={placed.tooth.iso} placed={placed} letter={letter} faint={state === undefined} />
            );
          })}
        </g>
      </svg>
      <figcaption>
        <ul class="legend">
          {states.map((state) => (
            <li key={state.key}>
              <svg width="34" height="30" viewBox="-17 -15 34 30" aria-hidden="true">
                <rect
                  x="-16"
                  y="-14"
                  width="32"
                  height="28"
                  rx="9"
                  class="tooth-outline"
                  fill={`url(#${id}-${state.pattern})`}
                />
                <circle r="9" class="tooth-disc" />
                <text class="tooth-letter">{state.letter}</text>
              </svg>
              {state.words}
            </li>
          ))}
        </ul>
        <p id={`${id}-keys`} class="small quiet">
          {t('entry.chart_keys', { letters: states.map((state) => state.letter).join(', ') })}
        </p>
      </figcaption>
    </figure>
  );
}

const letterOf = (gone: boolean, state: ToothState | undefined, others: Props['others']): string =>
  gone ? '×' : (state?.letter ?? others?.letter ?? '');

type ShapeProps = { placed: Placed; state: ToothState | undefined; id: string };

function ToothShape({ placed, state, id }: ShapeProps) {
  const fill = state === undefined ? 'var(--sheet)' : `url(#${id}-${state.pattern})`;
  return (
    <g transform={`translate(${placed.x} ${placed.y})`}>
      {/* A wider, unseen shape, so that a wet finger finds the tooth. */}
      <circle r="26" class="tooth-reach" />
      <path d={placed.path} transform={`rotate(${placed.turn})`} class="tooth-outline" fill={fill} />
    </g>
  );
}

function Letter({ placed, letter, faint }: { placed: Placed; letter: string; faint: boolean }) {
  if (letter === '') return null;
  return (
    <g transform={`translate(${placed.x} ${placed.y})`}>
      {faint ? null : <circle r="11" class="tooth-disc" />}
      <text class={faint ? 'tooth-letter tooth-faint' : 'tooth-letter'} data-letter={placed.tooth.iso}>
        {letter}
      </text>
    </g>
  );
}

/** Three samples of the palette of gaps, each with its pattern, so that colour never carries a state alone. */
function Patterns({ id }: { id: string }) {
  return (
    <defs>
      <pattern id={`${id}-solid`} width="8" height="8" patternUnits="userSpaceOnUse">
        <rect width="8" height="8" fill="#222b79" />
      </pattern>
      <pattern
        id={`${id}-lines`}
        width="7"
        height="7"
        patternUnits="userSpaceOnUse"
        patternTransform="rotate(45)"
      >
        <rect width="7" height="7" fill="#4e82a3" />
        <rect width="2.4" height="7" fill="#d6e2ea" />
      </pattern>
      <pattern id={`${id}-dots`} width="9" height="9" patternUnits="userSpaceOnUse">
        <rect width="9" height="9" fill="#e3c7b0" />
        <circle cx="4.5" cy="4.5" r="1.5" fill="#6e5440" />
      </pattern>
      <pattern
        id={`${id}-cross`}
        width="8"
        height="8"
        patternUnits="userSpaceOnUse"
        patternTransform="rotate(45)"
      >
        <rect width="8" height="8" fill="#9fa696" />
        <path d="M0 0H8M0 0V8" stroke="#4a5048" stroke-width="2" />
      </pattern>
    </defs>
  );
}
