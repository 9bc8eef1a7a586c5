/** Hands on the picture: mouse, pen, fingers and keys, told as turns, moves, zooms and taps. */
export type Hands = {
  /** By parts of the picture's height; `at` from its left and top, 0 to 1. */
  turn: (right: number, up: number, at: Spot) => void;
  move: (right: number, up: number, at: Spot) => void;
  zoom: (by: number, at: Spot) => void;
  tap: (at: Spot) => void;
};
export type Spot = { x: number; y: number };

const TAP_PIXELS = 6;
const TAP_MS = 600;
const KEY_TURN = 0.045;
const KEY_MOVE = 0.04;
const KEY_ZOOM = 1.12;
const MIDDLE: Spot = { x: 0.5, y: 0.5 };

/** What a key does; false where it means nothing here. */
export function keyed(
  event: Pick<KeyboardEvent, 'key' | 'shiftKey'>,
  hands: Hands,
  at: Spot = MIDDLE,
): boolean {
  const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
  if (way !== undefined) {
    const [right = 0, up = 0] = way;
    if (event.shiftKey) hands.move(-right * KEY_MOVE, up * KEY_MOVE, at);
    else hands.turn(right * KEY_TURN, up * KEY_TURN, at);
    return true;
  }
  if (event.key === '+' || event.key === '=') hands.zoom(KEY_ZOOM, at);
  else if (event.key === '-' || event.key === '_') hands.zoom(1 / KEY_ZOOM, at);
  else if (event.key === 'Enter') hands.tap(at);
  else return false;
  return true;
}

type Finger = { x: number; y: number };

/** Listens to a canvas until the function given back is called. */
export function listen(canvas: HTMLCanvasElement, hands: Hands): () => void {
  const fingers = new Map<number, Finger>();
  let start: { x: number; y: number; at: number; still: boolean } | null = null;

  const spot = (x: number, y: number): Spot => {
    const box = canvas.getBoundingClientRect();
    return { x: (x - box.left) / box.width, y: (y - box.top) / box.height };
  };
  const high = () => canvas.getBoundingClientRect().height;

  const down = (event: PointerEvent) => {
    canvas.setPointerCapture(event.pointerId);
    fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
    start =
      fingers.size === 1 ? { x: event.clientX, y: event.clientY, at: event.timeStamp, still: true } : null;
  };

  const drag = (event: PointerEvent) => {
    const before = fingers.get(event.pointerId);
    if (before === undefined) return;
    const others = [...fingers].filter(([id]) => id !== event.pointerId).map(([, finger]) => finger);
    const now = { x: event.clientX, y: event.clientY };
    fingers.set(event.pointerId, now);
    const [dx, dy] = [(now.x - before.x) / high(), (now.y - before.y) / high()];
    const [other] = others;
    if (other !== undefined) {
      const apart = (finger: Finger) => Math.hypot(finger.x - other.x, finger.y - other.y);
      const at = spot((now.x + other.x) / 2, (now.y + other.y) / 2);
      hands.zoom(apart(now) / Math.max(apart(before), 1), at);
      hands.move(-dx / 2, dy / 2, at);
      return;
    }
    if (start?.still && Math.hypot(now.x - start.x, now.y - start.y) < TAP_PIXELS) return;
    if (start) start.still = false;
    const at = spot(start?.x ?? now.x, start?.y ?? now.y);
    if (event.shiftKey || event.buttons === 2 || event.buttons === 4) hands.move(-dx, dy, at);
    else hands.turn(dx * 2.2, dy * 2.2, at);
  };

  const up = (event: PointerEvent) => {
    fingers.delete(event.pointerId);
    const quick = start !== null && start.still && event.timeStamp - start.at < TAP_MS;
    if (quick && event.type === 'pointerup' && event.button === 0)
      hands.tap(spot(event.clientX, event.clientY));
    start = null;
  };

  const wheel = (event: WheelEvent) => {
    // The page scrolls until the picture was touched: only then does the wheel belong to it.
    if (!event.ctrlKey && document.activeElement !== canvas) return;
    event.preventDefault();
    hands.zoom(
      Math.exp(-event.deltaY * (event.deltaMode === 1 ? 0.05 : 0.0016)),
      spot(event.clientX, event.clientY),
    );
  };

  const menu = (event: Event) => event.preventDefault();
  canvas.addEventListener('pointerdown', down);
  canvas.addEventListener('pointermove', drag);
  canvas.addEventListener('pointerup', up);
  canvas.addEventListener('pointercancel', up);
  canvas.addEventListener('wheel', wheel, { passive: false });
  canvas.addEventListener('contextmenu', menu);
  return () => {
    canvas.removeEventListener('pointerdown', down);
    canvas.removeEventListener('pointermove', drag);
    canvas.removeEventListener('pointerup', up);
    canvas.removeEventListener('pointercancel', up);
    canvas.removeEventListener('wheel', wheel);
    canvas.removeEventListener('contextmenu', menu);
  };
}
