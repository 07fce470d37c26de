// The network as what a map draws: points, wedges and lines.

import type { Feature, FeatureCollection } from "geojson";
import type { Network, SectorMark } from "../api/client";
import { placeAt } from "./grid";

const WEDGE_STEP_DEG = 6;
/** Length of a sector's wedge on the map, where nothing says how far it serves. */
const USUAL_REACH_M = 4000;

export function collection(features: Feature[]): FeatureCollection {
  return { type: "FeatureCollection", features };
}

/** What fails lies on top: it is what a person looks for. */
const HEIGHT: Record<string, number> = { unstudied: 0, served: 1, doubtful: 2, unserved: 3 };

/** The premises from the lowest to the topmost, in so many parts. */
export function premisesPoints({ premises: p }: Network, parts: number): FeatureCollection[] {
  const mark = (i: number): string => p.verdict[i] ?? "unstudied";
  const order = [...p.id.keys()].sort((a, b) => HEIGHT[mark(a)]! - HEIGHT[mark(b)]! || a - b);
  const size = Math.ceil(order.length / parts);
  return Array.from({ length: parts }, (_, part) =>
    collection(
      order.slice(part * size, (part + 1) * size).map((i) => ({
        type: "Feature",
        id: i,
        geometry: { type: "Point", coordinates: [p.lon_deg[i]!, p.lat_deg[i]!] },
        properties: { id: p.id[i]!, mark: mark(i) },
      })),
    ),
  );
}

export function reach_m(sector: SectorMark): number {
  return Math.min(Math.max((sector.farthest_served_m ?? 0) * 0.35, 1200), USUAL_REACH_M);
}

function wedge(sector: SectorMark, azimuth_deg: number): [number, number][] {
  const width_deg = Math.min(sector.beamwidth_deg, 360);
  const apex: [number, number] = [sector.position.lon_deg, sector.position.lat_deg];
  const steps = Math.max(2, Math.ceil(width_deg / WEDGE_STEP_DEG));
  const rim = Array.from({ length: steps + 1 }, (_, i) =>
    placeAt(sector.position, azimuth_deg - width_deg / 2 + (width_deg * i) / steps, reach_m(sector)),
  );
  return width_deg >= 360 ? rim : [apex, ...rim, apex];
}

/** Wedges; a sector that is being turned is drawn where it is turned to. */
export function sectorWedges(network: Network, turned: { id: string; azimuth_deg: number } | null): FeatureCollection {
  return collection(
    network.sectors.map((s) => ({
      type: "Feature",
      geometry: { type: "Polygon", coordinates: [wedge(s, turned?.id === s.id ? turned.azimuth_deg : s.azimuth_deg)] },
      properties: { id: s.id },
    })),
  );
}

export function hopLines({ hops, masts }: Network): FeatureCollection {
  const place = new Map(masts.map((m) => [m.id, m.position]));
  return collection(
    hops.flatMap((hop) => {
      const from = place.get(hop.from);
      const to = place.get(hop.to);
      if (!from || !to) return [];
      const coordinates = [[from.lon_deg, from.lat_deg], [to.lon_deg, to.lat_deg]];
      return [{ type: "Feature", geometry: { type: "LineString", coordinates }, properties: { id: hop.id } } satisfies Feature];
    }),
  );
}

/** The path that is being asked about. */
export function pathLine(ends: readonly [number, number][] | null): FeatureCollection {
  return collection(ends ? [{ type: "Feature", geometry: { type: "LineString", coordinates: [...ends] }, properties: {} }] : []);
}
