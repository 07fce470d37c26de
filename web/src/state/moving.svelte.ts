// The one thing that is being moved on the map, until that is accepted or left.

import type { Change } from "../api/client";

export type Position = { readonly lon_deg: number; readonly lat_deg: number };
export type Movable = { readonly kind: "mast" | "premises"; readonly id: string; readonly from: Position };

class Moving {
  what = $state.raw<Movable | null>(null);
  to = $state.raw<Position | null>(null);

  begin(what: Movable): void {
    this.what = what;
    this.to = what.from;
  }

  end(): void {
    this.what = null;
    this.to = null;
  }

  /** What it comes to; nothing while it stands where it stood. */
  changes(): Change[] {
    const { what, to } = this;
    if (!what || !to || (to.lon_deg === what.from.lon_deg && to.lat_deg === what.from.lat_deg)) return [];
    return what.kind === "mast"
      ? [{ change: "move_mast", mast: what.id, position: { ...to } }]
      : [{ change: "move_premises", premises: what.id, position: { ...to } }];
  }
}

export const moving = new Moving();
