import { svelte } from "@sveltejs/vite-plugin-svelte";
import { defineConfig } from "vite";

// The page is served by the program itself, from the root of a loopback address.
export default defineConfig({
  plugins: [svelte()],
  base: "/",
  worker: { format: "es" },
  build: { outDir: "dist", target: "es2022", sourcemap: false, assetsInlineLimit: 0, chunkSizeWarningLimit: 2000 },
});
