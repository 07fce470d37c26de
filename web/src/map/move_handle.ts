// The handle of what is moved: dragged, or taken along by the arrow keys.

import { type Map as MapLibre, Marker } from "maplibre-gl";
import { placeAt } from "../layers/grid";
import { type Movable, moving } from "../state/moving.svelte";
import { text } from "../text/en";

const KEY_STEP_M = 10;
const KEY_STRIDE_M = 100; // with Shift
const AZIMUTHS_DEG: Record<string, number> = { ArrowUp: 0, ArrowRight: 90, ArrowDown: 180, ArrowLeft: 270 };

/** A tenth of a metre is more than anybody measures a place to: six decimals of a degree. */
const rounded = (degrees: number): number => Math.round(degrees * 1e6) / 1e6;

export class MoveHandle {
  private readonly marker: Marker;

  constructor(map: MapLibre, what: Movable) {
    const element = document.createElement("button");
    element.className = "move-handle";
    element.setAttribute("aria-label", text.move.handle(what.id));
    element.title = text.move.handle(what.id);
    element.addEventListener("click", (event) => event.stopPropagation());
    element.addEventListener("keydown", (event) => this.onkey(event));
    this.marker = new Marker({ element, draggable: true, anchor: "center" }).setLngLat([what.from.lon_deg, what.from.lat_deg]).addTo(map);
    this.marker.on("drag", () => {
      const { lng, lat } = this.marker.getLngLat();
      moving.to = { lon_deg: rounded(lng), lat_deg: rounded(lat) };
    });
    element.focus();
  }

  remove(): void {
    this.marker.remove();
  }

  private onkey(event: KeyboardEvent): void {
    const azimuth_deg = AZIMUTHS_DEG[event.key];
    if (event.key === "Escape") {
      event.stopPropagation();
      moving.end();
    }
    if (azimuth_deg === undefined || !moving.to) return;
    event.preventDefault();
    event.stopPropagation();
    const [lon, lat] = placeAt(moving.to, azimuth_deg, event.shiftKey ? KEY_STRIDE_M : KEY_STEP_M);
    moving.to = { lon_deg: rounded(lon), lat_deg: rounded(lat) };
    this.marker.setLngLat([lon, lat]);
  }
}
