// The jobs at the left: what ends first stands first.
import VectorLayer from "ol/layer/Vector";
import VectorSource from "ol/source/Vector";
import GeoJSON from "ol/format/GeoJSON";
import { make, makeButton } from "../../shared/lib/dom";
import { dateText } from "../../shared/lib/dates";
import { say } from "../../shared/lib/words";
import { edgeStyles } from "../../shared/map/digarea";
import { problemText } from "../app/api";
import type { Desk, JobRow } from "../app/desk";
import "./jobs.css";

interface List {
  jobs: JobRow[];
}

export function mountJobs(desk: Desk): void {
  const list = make("ul", "list");
  desk.left.append(make("h2", "", say("desk.first")), list);
  let rows: JobRow[] = [];
  const draw = () => list.replaceChildren(...rows.map((r) => rowOf(desk, r)));
  const read = async () => {
    rows = (await desk.api.get<List>("/api/jobs")).jobs;
    draw();
  };
  const again = () => void read().catch(desk.fail);
  desk.events.on("jobs", again);
  desk.events.on("job", again);
  desk.onJob(draw);
  drawGround(desk);
  again();
}

function rowOf(desk: Desk, r: JobRow): HTMLElement {
  const words = r.problem !== null ? problemText(r.problem) : r.last_day === "" ? say("desk.no_ticket") : dateText(r.last_day, new Date());
  const state = r.problem !== null ? say("desk.unreadable") : r.packs.length === 0 ? say("desk.never_packed") : "";
  const b = makeButton([make("b", "", r.name || r.folder), make("em", "", state), make("small", "", words)], () => void desk.choose(r.id));
  b.className = "job";
  if (desk.job?.id === r.id) b.setAttribute("aria-current", "true");
  return make("li", "", b);
}

/** The area of the chosen job and its margin, as the phone will show them. */
function drawGround(desk: Desk): void {
  const source = new VectorSource();
  const layer = new VectorLayer({ source, zIndex: 10, style: (f) => edgeStyles(f.get("part") === "margin" ? "margin" : "area") });
  layer.set("name", "ground");
  desk.map.addLayer(layer);
  desk.onJob((job) => {
    source.clear();
    if (job?.ground) source.addFeatures(new GeoJSON().readFeatures(job.ground, { featureProjection: "EPSG:3857" }).filter((f) => !["route", "apart"].includes(f.get("part"))));
  });
}
