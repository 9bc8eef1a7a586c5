const LOOK: Readonly<Record<string, string>> = {
  agrees: 'agrees',
  doubtful: 'doubtful',
  'does not agree': 'not',
  'cannot tell': 'tell',
};

/** A verdict as its mark and its word; colour only helps the eye. */
export function Verdict({ verdict, word, mark }: { verdict: string; word: string; mark: string }) {
  return (
    <span class={`verdict verdict-${LOOK[verdict] ?? 'tell'}`}>
      <span aria-hidden="true">{mark}</span>
      {word}
    </span>
  );
}
