import type { ComponentChildren } from 'preact';
import { useId } from 'preact/hooks';

type Props = {
  /** Level of the heading that holds the button. */
  level: 2 | 3 | 4;
  head: ComponentChildren;
  open: boolean;
  onOpen: (open: boolean) => void;
  children: ComponentChildren;
};

/** One line that opens. On paper everything is open. */
export function Fold({ level, head, open, onOpen, children }: Props) {
  const id = useId();
  const Heading = `h${level}` as const;
  return (
    <div class="fold">
      <Heading class="fold-head">
        <button
          type="button"
          class="fold-button"
          aria-expanded={open}
          aria-controls={id}
          onClick={() => onOpen(!open)}
        >
          <span class="fold-sign" aria-hidden="true" />
          {head}
        </button>
      </Heading>
      <div id={id} class="fold-body" hidden={!open}>
        {children}
      </div>
    </div>
  );
}
