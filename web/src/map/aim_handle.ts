// The handle at the end of a sector's aim. Dragging it tries an aim; letting go makes it.

import { type Map as MapLibre, Marker } from "maplibre-gl";
import type { Change, SectorMark } from "../api/client";
import { azimuthTo, placeAt } from "../layers/grid";
import { reach_m } from "../layers/sources";
import { overlay } from "../state/overlay.svelte";
import { open } from "../state/project.svelte";
import { text } from "../text/en";

const KEY_STEP_DEG = 5;

/** Aims are set to a tenth of a degree: nobody mounts an antenna more exactly. */
const rounded = (azimuth_deg: number): number => (Math.round(azimuth_deg * 10) / 10) % 360;

export class AimHandle {
  private readonly marker: Marker;
  private azimuth_deg: number;

  constructor(map: MapLibre, private readonly sector: SectorMark) {
    this.azimuth_deg = sector.azimuth_deg;
    const element = document.createElement("button");
    element.className = "aim-handle";
    element.setAttribute("aria-label", text.map.aim(sector.id));
    element.title = text.map.aim(sector.id);
    element.addEventListener("click", (event) => event.stopPropagation());
    element.addEventListener("keydown", (event) => this.onkey(event));
    this.marker = new Marker({ element, draggable: true, anchor: "center" }).setLngLat(this.tip()).addTo(map);
    this.marker.on("drag", () => {
      const { lng, lat } = this.marker.getLngLat();
      this.turn(azimuthTo(sector.position, lng, lat));
    });
    this.marker.on("dragend", () => {
      this.marker.setLngLat(this.tip());
      void this.make();
    });
  }

  remove(): void {
    this.marker.remove();
  }

  private tip(): [number, number] {
    return placeAt(this.sector.position, this.azimuth_deg, reach_m(this.sector));
  }

  private change(): Change {
    return { change: "set_sector_number", sector: this.sector.id, field: "azimuth_deg", value: this.azimuth_deg };
  }

  private turn(azimuth_deg: number): void {
    this.azimuth_deg = rounded(azimuth_deg + 360);
    overlay.try({ sector: this.sector.id, changes: [this.change()], azimuth_deg: this.azimuth_deg });
  }

  private async make(): Promise<void> {
    if (this.azimuth_deg === this.sector.azimuth_deg) return void overlay.end();
    await open.accept([this.change()], text.changes.aim(this.sector.id));
    await overlay.end();
  }

  private onkey(event: KeyboardEvent): void {
    const step = event.key === "ArrowRight" ? KEY_STEP_DEG : event.key === "ArrowLeft" ? -KEY_STEP_DEG : 0;
    if (step !== 0) {
      event.preventDefault();
      event.stopPropagation();
      this.turn(this.azimuth_deg + step);
      this.marker.setLngLat(this.tip());
    } else if (event.key === "Enter") {
      event.preventDefault();
      void this.make();
    } else if (event.key === "Escape") {
      this.azimuth_deg = this.sector.azimuth_deg;
      this.marker.setLngLat(this.tip());
      void overlay.end();
    }
  }
}
