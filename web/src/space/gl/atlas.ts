/** One picture that holds every text once, with where each lies in it. */
export type Style = 'tooth' | 'contour' | 'line' | 'side' | 'site' | 'first' | 'chosen' | 'landmark';
export type Ink = { ink: string; ground: string; accent: string; accentInk: string };
export type Piece = { left: number; top: number; right: number; bottom: number; wide: number; high: number };

const FONT = "'Source Sans 3', 'Gill Sans Nova', Calibri, 'DejaVu Sans', system-ui, sans-serif";
const SIZE: Record<Style, number> = {
  tooth: 15,
  contour: 11,
  line: 12,
  side: 20,
  site: 12,
  first: 13,
  chosen: 15,
  landmark: 13,
};
const WIDTH = 1024;
const ROUND: ReadonlySet<Style> = new Set<Style>(['chosen', 'landmark']);
const DOTTED: ReadonlySet<Style> = new Set<Style>(['site', 'first']);

const nameOf = (text: string, style: Style) => `${style} ${text}`;

/** A site is a dot at its place with its number beside it, so that it covers little of the bands. */
const DOT = 5;
const BESIDE = 4;

function measured(context: CanvasRenderingContext2D, text: string, style: Style, scale: number) {
  const size = SIZE[style] * scale;
  context.font = `${style === 'line' ? 500 : 700} ${size}px ${FONT}`;
  const wide = context.measureText(text).width;
  const pad = (ROUND.has(style) ? 6 : 4) * scale;
  if (DOTTED.has(style)) {
    const half = (DOT + BESIDE) * scale + wide + pad;
    return { wide: Math.ceil(2 * half), high: Math.ceil(size + 2 * pad), pad };
  }
  const high = size + 2 * pad;
  return {
    wide: Math.ceil(ROUND.has(style) ? Math.max(wide + 1.4 * pad, high) : wide + 2 * pad),
    high: Math.ceil(high),
    pad,
  };
}

function colours(style: Style, look: Ink): { ink: string; ground: string | null; halo: string } {
  if (style === 'contour') return { ink: '#16181d', ground: null, halo: '#ffffff' };
  if (style === 'chosen') return { ink: look.accentInk, ground: look.accent, halo: look.accentInk };
  if (style === 'landmark') return { ink: look.accentInk, ground: look.accent, halo: look.ground };
  return { ink: look.ink, ground: null, halo: look.ground };
}

function dotted(
  context: CanvasRenderingContext2D,
  text: string,
  cx: number,
  cy: number,
  fill: string,
  scale: number,
): void {
  context.beginPath();
  context.arc(cx, cy, DOT * scale, 0, 2 * Math.PI);
  context.fillStyle = fill;
  context.fill();
  context.lineWidth = 1.6 * scale;
  context.strokeStyle = fill === '#ffffff' ? '#16181d' : '#ffffff';
  context.stroke();
  context.textAlign = 'left';
  const x = cx + (DOT + BESIDE) * scale;
  context.lineJoin = 'round';
  context.lineWidth = 3.5 * scale;
  context.strokeStyle = '#ffffff';
  context.strokeText(text, x, cy);
  context.fillStyle = '#16181d';
  context.fillText(text, x, cy);
  context.textAlign = 'center';
}

function drawn(
  context: CanvasRenderingContext2D,
  text: string,
  style: Style,
  box: { x: number; y: number; wide: number; high: number },
  look: Ink,
  scale: number,
): void {
  const { ink, ground, halo } = colours(style, look);
  const [cx, cy] = [box.x + box.wide / 2, box.y + box.high / 2];
  if (DOTTED.has(style)) {
    dotted(context, text, cx, cy, style === 'first' ? '#16181d' : '#ffffff', scale);
    return;
  }
  if (ground !== null) {
    context.beginPath();
    context.roundRect(box.x + scale, box.y + scale, box.wide - 2 * scale, box.high - 2 * scale, box.high / 2);
    context.fillStyle = ground;
    context.fill();
    context.lineWidth = 1.5 * scale;
    context.strokeStyle = halo;
    context.stroke();
  } else {
    context.lineJoin = 'round';
    context.lineWidth = 3.5 * scale;
    context.strokeStyle = halo;
    context.strokeText(text, cx, cy);
  }
  context.fillStyle = ink;
  context.fillText(text, cx, cy + (ground === null ? 0 : 0.5 * scale));
}

/** Draws all texts into one canvas. `scale`: pixels of the picture for one of the page. */
export function atlas(
  texts: Iterable<{ text: string; style: Style }>,
  look: Ink,
  scale: number,
): { canvas: HTMLCanvasElement; pieces: ReadonlyMap<string, Piece> } {
  const canvas = document.createElement('canvas');
  const context = canvas.getContext('2d');
  if (context === null) return { canvas, pieces: new Map() };
  const boxes = new Map<
    string,
    { text: string; style: Style; x: number; y: number; wide: number; high: number }
  >();
  let [x, y, row] = [0, 0, 0];
  for (const { text, style } of texts) {
    const name = nameOf(text, style);
    if (boxes.has(name)) continue;
    const { wide, high } = measured(context, text, style, scale);
    if (x + wide > WIDTH) [x, y, row] = [0, y + row, 0];
    boxes.set(name, { text, style, x, y, wide, high });
    x += wide;
    row = Math.max(row, high);
  }
  canvas.width = WIDTH;
  canvas.height = Math.max(y + row, 1);
  context.textAlign = 'center';
  context.textBaseline = 'middle';
  const pieces = new Map<string, Piece>();
  for (const [name, box] of boxes) {
    measured(context, box.text, box.style, scale);
    drawn(context, box.text, box.style, box, look, scale);
    pieces.set(name, {
      left: box.x / WIDTH,
      right: (box.x + box.wide) / WIDTH,
      top: 1 - box.y / canvas.height,
      bottom: 1 - (box.y + box.high) / canvas.height,
      wide: box.wide / scale,
      high: box.high / scale,
    });
  }
  return { canvas, pieces };
}

export const pieceOf = (pieces: ReadonlyMap<string, Piece>, text: string, style: Style): Piece | undefined =>
  pieces.get(nameOf(text, style));
