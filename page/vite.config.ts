import { svelte } from "@sveltejs/vite-plugin-svelte";
import { defineConfig } from "vite";

export default defineConfig({
  plugins: [svelte()],
  base: "./",
  build: { outDir: "../src/ohmwright/web/static", emptyOutDir: true, assetsInlineLimit: 0, modulePreload: { polyfill: false } },
});
