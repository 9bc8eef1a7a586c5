import { gzipSync } from 'node:zlib';
import type { Plugin } from 'vite';

/** Prints what the page weighs on the way to the browser, and stops the build when it weighs too much. */
export function sizes(options: { limit_kb: number }): Plugin {
  return {
    name: 'sizes',
    apply: 'build',
    writeBundle(_, bundle) {
      const rows = Object.entries(bundle).map(([name, part]) => {
        const body = part.type === 'chunk' ? part.code : part.source;
        const first = part.type === 'chunk' && part.isEntry;
        return { name, first, bytes: gzipSync(body).length };
      });
      rows.sort((a, b) => b.bytes - a.bytes);
      const kb = (bytes: number) => (bytes / 1000).toFixed(1).padStart(7);
      const total = rows.reduce((sum, row) => sum + row.bytes, 0);
      for (const row of rows.filter((row) => row.bytes > 2000)) {
        console.log(`${kb(row.bytes)} kB gzip  ${row.name}${row.first ? '  (first)' : ''}`);
      }
      console.log(`${kb(total)} kB gzip  all told, limit ${options.limit_kb} kB`);
      if (total > options.limit_kb * 1000) this.error('the page weighs more than its limit');
    },
  };
}
