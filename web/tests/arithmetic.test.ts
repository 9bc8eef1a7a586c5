/** The browser computes no quantity and formats no number: what a person reads was computed and written by the server. */
import { readFileSync } from 'node:fs';
import { relative } from 'node:path';
import ts from 'typescript';
import { describe, expect, it } from 'vitest';
import { ALLOWED, type Kind } from './arithmetic.allowed';
import { sources } from './sources';

type Found = { kind: Kind; line: number; text: string };

const SIGNS = new Set([
  ts.SyntaxKind.MinusToken,
  ts.SyntaxKind.AsteriskToken,
  ts.SyntaxKind.AsteriskAsteriskToken,
  ts.SyntaxKind.SlashToken,
  ts.SyntaxKind.PercentToken,
  ts.SyntaxKind.MinusEqualsToken,
  ts.SyntaxKind.AsteriskEqualsToken,
  ts.SyntaxKind.SlashEqualsToken,
]);
const READS = new Set(['parseFloat', 'parseInt', 'Number']);
const FORMATS = new Set([
  'toFixed',
  'toPrecision',
  'toExponential',
  'toLocaleString',
  'toLocaleDateString',
  'toLocaleTimeString',
  'Intl',
]);

function kindOf(node: ts.Node): Found['kind'] | undefined {
  if (ts.isBinaryExpression(node) && SIGNS.has(node.operatorToken.kind)) return 'arithmetic';
  if (ts.isPrefixUnaryExpression(node) && node.operator === ts.SyntaxKind.PlusToken) return 'reading numbers';
  if (!ts.isIdentifier(node)) return undefined;
  if (node.text === 'Math') return 'Math';
  if (READS.has(node.text)) return 'reading numbers';
  return FORMATS.has(node.text) ? 'formatting' : undefined;
}

function search(text: string): Found[] {
  const file = ts.createSourceFile('x.tsx', text, ts.ScriptTarget.Latest, true, ts.ScriptKind.TSX);
  const found: Found[] = [];
  const visit = (node: ts.Node): void => {
    const kind = kindOf(node);
    const { line } = file.getLineAndCharacterOfPosition(node.getStart());
    if (kind !== undefined) found.push({ kind, line: line + 1, text: node.getText().slice(0, 60) });
    node.forEachChild(visit);
  };
  visit(file);
  return found;
}

const fits = (path: string, allowed: string) =>
  allowed.endsWith('/') ? path.startsWith(allowed) : path === allowed;

const FILES = sources('src').map((path) => {
  const name = relative('src', path).replaceAll('\\', '/');
  return { name, found: search(readFileSync(path, 'utf8')) };
});

describe('the browser computes nothing', () => {
  it('looks at all of the code', () => expect(FILES.length).toBeGreaterThan(30));

  it.each(FILES)('$name', ({ name, found }) => {
    const kinds: string[] = ALLOWED.filter((one) => fits(name, one.path)).flatMap((one) => one.kinds);
    expect(found.filter(({ kind }) => !kinds.includes(kind))).toEqual([]);
  });

  it('allows nothing that is not needed', () => {
    const idle = ALLOWED.filter((one) => !one.path.endsWith('/')).flatMap((one) => {
      const used = new Set(
        FILES.filter((file) => fits(file.name, one.path)).flatMap((file) =>
          file.found.map((hit) => hit.kind),
        ),
      );
      return one.kinds.filter((kind) => !used.has(kind)).map((kind) => `${one.path}: ${kind}`);
    });
    expect(idle).toEqual([]);
  });

  it.each([
    ['const x = value - low;', 'arithmetic'],
    ['value *= 2;', 'arithmetic'],
    ['Math.abs(v)', 'Math'],
    ['Number(text)', 'reading numbers'],
    ['const n = +text;', 'reading numbers'],
    ['v.toFixed(2)', 'formatting'],
    ['new Intl.NumberFormat("de")', 'formatting'],
  ])('would see %s', (text, kind) => {
    expect(search(text).map((found) => found.kind)).toContain(kind);
  });
});
