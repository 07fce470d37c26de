// The handle at the end of a sector's aim. Dragging it tries an aim; letting go makes it.

import { type Map as MapLibre, Marker } from "maplibre-gl";
import type { Change, SectorMark } from "../api/client";
import { azimuthTo, placeAt } from "../layers/grid";
import { reach_m } from "../layers/sources";
import { overlay } from "../state/overlay.svelte";
import { open } from "../state/project.svelte";
import { text } from "../text/en";

const KEY_STEP_DEG = 5;
/** The handle stands clear of the mast's name, however far out the map is zoomed. */
const LEAST_ARM_PX = 90;

/** Aims are set to a tenth of a degree: nobody mounts an antenna more exactly. */
const rounded = (azimuth_deg: number): number => (Math.round(azimuth_deg * 10) / 10) % 360;

export class AimHandle {
  private readonly marker: Marker;
  private azimuth_deg: number;

  constructor(private readonly map: MapLibre, private readonly sector: SectorMark) {
    this.azimuth_deg = sector.azimuth_deg;
    const element = document.createElement("button");
    element.className = "aim-handle";
    element.setAttribute("aria-label", text.map.aim(sector.id));
    element.title = text.map.aim(sector.id);
    element.addEventListener("click", (event) => event.stopPropagation());
    element.addEventListener("keydown", (event) => this.onkey(event));
    this.marker = new Marker({ element, draggable: true, anchor: "center" }).setLngLat([sector.position.lon_deg, sector.position.lat_deg]).addTo(map);
    this.place();
    map.on("zoom", this.place);
    this.marker.on("drag", () => {
      const { lng, lat } = this.marker.getLngLat();
      this.turn(azimuthTo(sector.position, lng, lat));
      this.drawArm(lng, lat);
    });
    this.marker.on("dragend", () => {
      this.place();
      void this.make();
    });
  }

  remove(): void {
    this.map.off("zoom", this.place);
    this.marker.remove();
  }

  /** Puts the handle where the aim points to. */
  private readonly place = (): void => {
    const { position } = this.sector;
    const reached = placeAt(position, this.azimuth_deg, reach_m(this.sector));
    const [mast, end] = [this.map.project([position.lon_deg, position.lat_deg]), this.map.project(reached)];
    const arm_px = Math.hypot(end.x - mast.x, end.y - mast.y);
    const tip = placeAt(position, this.azimuth_deg, reach_m(this.sector) * Math.max(1, LEAST_ARM_PX / arm_px));
    this.marker.setLngLat(tip);
    this.drawArm(...tip);
  };

  /** A line from the mast to the handle. */
  private drawArm(lon_deg: number, lat_deg: number): void {
    const { position } = this.sector;
    const [mast, tip] = [this.map.project([position.lon_deg, position.lat_deg]), this.map.project([lon_deg, lat_deg])];
    const element = this.marker.getElement();
    element.style.setProperty("--arm-length", `${Math.hypot(mast.x - tip.x, mast.y - tip.y)}px`);
    element.style.setProperty("--arm-turn", `${Math.atan2(mast.y - tip.y, mast.x - tip.x)}rad`);
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
      this.place();
    } else if (event.key === "Enter") {
      event.preventDefault();
      void this.make();
    } else if (event.key === "Escape") {
      this.azimuth_deg = this.sector.azimuth_deg;
      this.place();
      void overlay.end();
    }
  }
}
