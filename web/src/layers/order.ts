// Every layer of the map, from the ground up. The one place that says what lies over what.

import type { LayerSpecification, RasterSourceSpecification, StyleSpecification } from "maplibre-gl";
import { collection } from "./sources";

const nothing = { type: "geojson", data: collection([]) } as const;

/**
 * Sources and layers of the premises, one over the other: the map draws no more
 * than some ten thousand marks of one source at a time.
 */
export const PREMISES: readonly string[] = Array.from({ length: 12 }, (_, i) => `premises-${i}`);

const premises = (source: string): LayerSpecification => ({
  id: source,
  type: "symbol",
  source,
  layout: {
    "icon-image": ["get", "mark"],
    "icon-size": ["interpolate", ["linear"], ["zoom"], 8, 0.45, 11, 0.7, 14, 1],
    "icon-allow-overlap": true,
    "icon-ignore-placement": true,
  },
});

export const PAPER = "#efeadd";
/** Ground shows through coverage; a key shows its colours as they then look. */
export const COVERAGE_OPACITY = 0.65;

export const LAYERS: readonly LayerSpecification[] = [
  { id: "paper", type: "background", paint: { "background-color": PAPER } },
  { id: "tiles", type: "raster", source: "tiles", layout: { visibility: "none" } },
  { id: "relief", type: "raster", source: "relief", paint: { "raster-opacity": 0.95, "raster-fade-duration": 100 } },
  { id: "land-cover", type: "raster", source: "land-cover", layout: { visibility: "none" }, paint: { "raster-opacity": 0.45 } },
  { id: "contours", type: "line", source: "contours", paint: { "line-color": "#7a6a4f", "line-opacity": 0.45, "line-width": 0.7 } },
  { id: "buildings", type: "fill", source: "buildings", paint: { "fill-color": "#8d8677", "fill-opacity": 0.7 } },
  { id: "sector-area", type: "fill", source: "sectors", paint: { "fill-color": "#173a3f", "fill-opacity": 0.1 } },
  { id: "sector-edge", type: "line", source: "sectors", paint: { "line-color": "#173a3f", "line-width": 1.2, "line-opacity": 0.75 } },
  { id: "hops", type: "line", source: "hops", paint: { "line-color": "#173a3f", "line-width": 1.6, "line-dasharray": [4, 3] } },
  { id: "path-rim", type: "line", source: "path", paint: { "line-color": "#fffdf8", "line-width": 5 } },
  { id: "path", type: "line", source: "path", paint: { "line-color": "#b3450f", "line-width": 2 } },
  ...PREMISES.map(premises),
  { id: "chosen", type: "circle", source: "chosen", paint: { "circle-radius": 13, "circle-color": "#0000", "circle-stroke-color": "#b3450f", "circle-stroke-width": 3 } },
];

/** The coverage lies over the ground and below everything that is built. */
export const COVERAGE_BELOW = "sector-area";

export function style(tileAddress: string | null): StyleSpecification {
  const own = (what: string, maxzoom: number): RasterSourceSpecification => ({
    type: "raster",
    tiles: [`${location.origin}/api/${what}/{z}/{x}/{y}.png`],
    tileSize: 256,
    maxzoom,
  });
  return {
    version: 8,
    sources: {
      ...(tileAddress ? { tiles: { type: "raster", tiles: [tileAddress], tileSize: 256 } as const } : {}),
      relief: own("relief", 15),
      "land-cover": own("land-cover", 15),
      contours: nothing,
      buildings: nothing,
      sectors: nothing,
      hops: nothing,
      path: nothing,
      ...Object.fromEntries(PREMISES.map((name) => [name, nothing])),
      chosen: nothing,
    },
    layers: LAYERS.filter((l) => tileAddress !== null || l.id !== "tiles").map((l) =>
      l.id === "tiles" ? ({ ...l, layout: { visibility: "visible" } } as LayerSpecification) : l,
    ),
  };
}
