// Masts are buttons over the map: reachable by keyboard, read by name.

import { type Map as MapLibre, Marker } from "maplibre-gl";
import type { Network } from "../api/client";
import { text } from "../text/en";

export class MastMarkers {
  private readonly markers: Marker[];

  constructor(map: MapLibre, network: Network, onchoose: (id: string) => void) {
    this.markers = network.masts.map((mast) => {
      const element = document.createElement("button");
      element.className = "mast-mark";
      element.textContent = mast.name || mast.id;
      element.setAttribute("aria-label", text.map.mast(mast.name || mast.id));
      element.addEventListener("click", (event) => {
        event.stopPropagation();
        onchoose(mast.id);
      });
      return new Marker({ element, anchor: "center" }).setLngLat([mast.position.lon_deg, mast.position.lat_deg]).addTo(map);
    });
  }

  remove(): void {
    for (const marker of this.markers) marker.remove();
  }
}
