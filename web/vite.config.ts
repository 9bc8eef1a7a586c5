import { fileURLToPath } from 'node:url';
import { defineConfig } from 'vitest/config';
import { sizes } from './tools/sizes.ts';

const here = (path: string) => fileURLToPath(new URL(path, import.meta.url));
const server = process.env['MOUNTPROOF_SERVER'] ?? 'http://127.0.0.1:8765';

export default defineConfig({
  plugins: [sizes({ limit_kb: 350 })],
  resolve: { alias: { '@': here('./src') } },
  build: {
    // The page travels inside the Python package; it is never committed.
    outDir: here('../src/mountproof/surfaces/web/page'),
    emptyOutDir: true,
    target: 'es2022',
    // The polyfill would be an inline script in disguise, and every browser asked for knows module preloading.
    modulePreload: { polyfill: false },
    // Nothing is put into the page as data: addresses, the content policy has only 'self'.
    assetsInlineLimit: 0,
    reportCompressedSize: false,
    chunkSizeWarningLimit: 1000, // what counts is the weight on the way, which sizes() holds
  },
  server: { host: '127.0.0.1', proxy: { '/api': server } },
  preview: { host: '127.0.0.1', proxy: { '/api': server } },
  test: {
    environment: 'happy-dom',
    include: ['tests/**/*.test.{ts,tsx}', 'src/**/*.test.{ts,tsx}'],
    restoreMocks: true,
    unstubGlobals: true,
  },
});
