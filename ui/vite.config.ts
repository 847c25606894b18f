import { fileURLToPath } from 'node:url';
import { svelte } from '@sveltejs/vite-plugin-svelte';
import { defineConfig } from 'vite';

const here = (name: string): string => fileURLToPath(new URL(name, import.meta.url));

/** Builds the page and its door into `.build/ui`, from where the daemon serves it. Nothing is inlined: the daemon's content policy forbids it. */
export default defineConfig({
  root: here('.'),
  plugins: [svelte({ configFile: false })],
  build: { rollupOptions: { input: [here('index.html'), here('door.html')] }, outDir: '../.build/ui', emptyOutDir: true, assetsInlineLimit: 0, target: 'es2022', chunkSizeWarningLimit: 800 },
});
