/** Moving the cursor to the box of an entry. */
import { isBelow, parentOf } from './names';

const boxes = (root: ParentNode, selector: string) => [...root.querySelectorAll<HTMLElement>(selector)];

function reach(box: HTMLElement): void {
  box.focus();
  if (box instanceof HTMLInputElement && box.type === 'text') box.select();
  box.scrollIntoView({ block: 'nearest' });
}

/** Goes to the box of exactly this entry. */
export function focusEntry(root: ParentNode, field: string): boolean {
  const found = boxes(root, '[data-entry]').find((box) => box.dataset['entry'] === field);
  if (found !== undefined) reach(found);
  return found !== undefined;
}

/** Goes to an entry, or to what is nearest: the first box below it, else the part of the form that would hold it. */
export function focusNear(root: ParentNode, field: string): boolean {
  if (focusEntry(root, field)) return true;
  const below = boxes(root, '[data-entry]').find((box) => isBelow(box.dataset['entry'] ?? '', field));
  if (below !== undefined) {
    reach(below);
    return true;
  }
  for (let name = field; name !== ''; name = parentOf(name)) {
    const part = boxes(root, '[data-field]').find((one) => one.dataset['field'] === name);
    const box = part?.querySelector<HTMLElement>('input, select, textarea, button, h3');
    if (box) {
      reach(box);
      return true;
    }
  }
  return false;
}

/** The box behind another one, in the order of the page. */
export function focusNext(root: ParentNode, from: Element): boolean {
  const all = boxes(root, '[data-entry]').filter((box) => box.offsetParent !== null || box === from);
  const own = from instanceof HTMLElement ? from.dataset['entry'] : undefined;
  // Choices side by side are one entry: Enter leaves all of them.
  const last = all.findLastIndex(
    (box) => box === from || (box.getAttribute('type') === 'radio' && box.dataset['entry'] === own),
  );
  const next = all[last + 1];
  if (next === undefined) return false;
  const checked = boxes(root, '[type="radio"]:checked').find(
    (box) => box.dataset['entry'] === next.dataset['entry'],
  );
  reach(checked ?? next);
  return true;
}
