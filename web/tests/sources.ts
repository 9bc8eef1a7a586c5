import { readdirSync } from 'node:fs';
import { join } from 'node:path';

/** Files of our own code below a folder: no generated ones, no tests. */
export function sources(folder: string): string[] {
  return readdirSync(folder, { recursive: true, encoding: 'utf8' })
    .map((name) => join(folder, name))
    .filter(
      (path) =>
        /\.tsx?$/.test(path) && !/\.test\.tsx?$/.test(path) && !path.endsWith(join('api', 'types.ts')),
    )
    .sort();
}
