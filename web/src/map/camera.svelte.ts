// Where the map looks. Only this file moves it on the page's behalf.

import type { Map as MapLibre } from "maplibre-gl";

class Camera {
  map = $state.raw<MapLibre | null>(null);

  /** Brings a place into view; what is in view already stays where it is. */
  show(lon_deg: number, lat_deg: number): void {
    const { map } = this;
    if (!map) return;
    const { x, y } = map.project([lon_deg, lat_deg]);
    const { clientWidth, clientHeight } = map.getContainer();
    const margin = 60;
    const sheet = 440; // an open sheet covers the right of the map
    const isInView = x > margin && y > margin && x < clientWidth - sheet && y < clientHeight - margin;
    if (!isInView) map.easeTo({ center: [lon_deg, lat_deg], offset: [-sheet / 2, 0], zoom: Math.max(map.getZoom(), 11) });
  }
}

export const camera = new Camera();
