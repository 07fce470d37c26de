// What lies under the pointer, and the path that is looked at.

export type Pointer = { readonly lon_deg: number; readonly lat_deg: number; readonly value: number | null };

async function readCollection(address: string): Promise<GeoJSON.FeatureCollection | null> {
  const response = await fetch(address);
  return response.ok ? ((await response.json()) as GeoJSON.FeatureCollection) : null;
}

class Ground {
  pointer = $state.raw<Pointer | null>(null);
  /** Ends of the path that is asked about, from the mast. */
  path = $state.raw<readonly [number, number][] | null>(null);

  readContours = (): Promise<GeoJSON.FeatureCollection | null> => readCollection("/api/contours");
  readBuildings = (): Promise<GeoJSON.FeatureCollection | null> => readCollection("/api/buildings");
}

export const ground = new Ground();
