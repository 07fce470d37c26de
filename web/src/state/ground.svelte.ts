// What lies under the pointer, and the path that is looked at.

export type Pointer = { readonly lon_deg: number; readonly lat_deg: number; readonly value: number | null };

class Ground {
  pointer = $state.raw<Pointer | null>(null);
  /** Ends of the path that is asked about, from the mast. */
  path = $state.raw<readonly [number, number][] | null>(null);
}

export const ground = new Ground();
