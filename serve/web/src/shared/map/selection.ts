// What is marked on the map: the one that is looked at, and lighter the others found with it.
import type Feature from "ol/Feature";
import VectorLayer from "ol/layer/Vector";
import VectorSource from "ol/source/Vector";
import { selectionStyle } from "../records/styles";

interface Selection {
  layer: VectorLayer;
  /** Marks some features, and others lighter; none takes all marks away. */
  select(chosen: Feature[], others?: Feature[]): void;
}

export function makeSelection(): Selection {
  const source = new VectorSource();
  const layer = new VectorLayer({ source, style: selectionStyle(), zIndex: 11.4 });
  // Copies, so that the halo is apart from the record.
  const copyOf = (f: Feature, lighter: boolean) => {
    const copy = f.clone();
    copy.setId(undefined);
    copy.set("lighter", lighter, true);
    return copy;
  };
  return {
    layer,
    select(chosen, others = []) {
      source.clear();
      const rest = others.filter((f) => !chosen.includes(f));
      source.addFeatures([...rest.map((f) => copyOf(f, true)), ...chosen.map((f) => copyOf(f, false))].filter((f) => f.getGeometry()));
    },
  };
}
