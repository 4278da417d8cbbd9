// Adding a source: an address is asked what it is, its layers are looked at, and the person
// says what its terms are.
import { toLonLat } from "ol/proj";
import { make, makeButton, setText } from "../../shared/lib/dom";
import { errorMessage } from "../../shared/lib/http";
import { say } from "../../shared/lib/words";
import { Refused } from "../app/api";
import type { Desk, Dialog } from "../app/desk";
import { field, type Field, termsForm } from "./termsform";

interface Offer {
  name: string;
  layer: string;
  title: string;
  kind: string;
  zooms: [number, number] | null;
  attribution: string;
  notes: string[];
  file: string;
}

interface Looked {
  look: string;
  offers: Offer[];
  /** the environment variable that has to hold the key */
  key_env: string;
}

interface Tried {
  status: number;
  told: { keeping: string[]; clock: string; odd: string[] };
  zoom: number;
  /** base64; null = no picture came */
  picture: string | null;
  media?: string;
  size?: string;
}

/** How many layers are looked at without being asked to: each costs the service some requests. */
const lookedAt = 4;

/** Gives the name of the source that was added, or null. */
export async function addSource(desk: Desk): Promise<string | null> {
  const dialog = desk.dialog(say("under.add_title"));
  let name: string | null = null;
  askAddress(desk, dialog, (n) => {
    name = n;
    dialog.close();
  });
  await dialog.closed;
  return name;
}

function askAddress(desk: Desk, dialog: Dialog, done: (name: string) => void): void {
  const address = field(say("under.address"), say("under.address_help"));
  const low = field(say("under.zooms_shallow"));
  const high = field(say("under.zooms_deep"));
  const key = field(say("under.key_env"), say("under.key_help"));
  const bad = make("p", "bad");
  bad.setAttribute("role", "alert");
  const extra = make("div", "pick", low.box, high.box);
  const form = make("form", "form", address.box, extra, key.box, bad);
  for (const f of [low, high]) f.input.inputMode = "numeric";
  const kinds = () => {
    extra.hidden = !address.input.value.includes("{z}");
    key.box.hidden = !address.input.value.includes("{key}");
  };
  address.input.addEventListener("input", kinds);
  kinds();
  const look = submits(form, say("under.look"));
  form.addEventListener("submit", (e) => {
    e.preventDefault();
    look.disabled = true;
    setText(bad, "");
    void desk.api.post<Looked>("/api/sources/look", {
      address: address.input.value, key_env: key.input.value, ...(extra.hidden ? {} : { zooms: [Number(low.input.value), Number(high.input.value)] }),
    }).then((looked) => chooseLayer(desk, dialog, looked, done), (e: unknown) => setText(bad, errorMessage(e)))
      .finally(() => { look.disabled = false; });
  });
  dialog.body.replaceChildren(form);
  dialog.foot.replaceChildren(look);
  address.input.focus();
}

/** The button at the foot that sends a form; Enter does so too. */
function submits(form: HTMLFormElement, text: string): HTMLButtonElement {
  form.id = "source-form";
  const b = makeButton([text], () => {});
  b.type = "submit";
  b.className = "main";
  b.setAttribute("form", form.id);
  return b;
}

/** The layers with their pictures at the middle of the map. */
function chooseLayer(desk: Desk, dialog: Dialog, looked: Looked, done: (name: string) => void): void {
  const list = make("ul", "offers");
  const filter = field(say("under.filter", { n: looked.offers.length }));
  const stop = new AbortController();
  void dialog.closed.then(() => stop.abort());
  const go = makeButton([say("under.terms_next")], () => {
    stop.abort();
    stateTerms(desk, dialog, looked, chosen, done);
  });
  go.className = "main";
  go.disabled = true;
  let chosen = -1;
  const cards = looked.offers.map((o, n) => {
    const picture = make("span", "blank", say("under.not_looked"));
    const told = make("small", "", o.notes.join(" "));
    const card = makeButton([picture, make("b", "", o.title || o.layer || o.name), make("small", "", kindText(o)), told], () => {
      chosen = n;
      cards.forEach((c, i) => c.card.setAttribute("aria-pressed", String(i === n)));
      go.disabled = false;
      void show();
    });
    card.setAttribute("aria-pressed", "false");
    let asked = false;
    const show = async () => {
      if (asked) return;
      asked = true;
      setText(picture, say("under.looking"));
      try {
        const tried = await desk.api.post<Tried>("/api/sources/try", { look: looked.look, offer: n, at: toLonLat(desk.map.getView().getCenter() ?? [0, 0]), zoom: Math.round(desk.map.getView().getZoom() ?? 16) }, stop.signal);
        if (tried.picture === null) setText(picture, say("under.no_tile", { status: tried.status }));
        else {
          const image = make("img", "");
          image.alt = say("under.tile_of", { name: o.title || o.name });
          image.src = `data:${tried.media ?? ""};base64,${tried.picture}`;
          picture.replaceWith(image);
        }
        setText(told, [...o.notes, tried.size ?? "", ...(o.file === "" ? tried.told.keeping : []), ...tried.told.odd].filter((t) => t !== "").join(". "));
      } catch (e) {
        if (!stop.signal.aborted) setText(picture, errorMessage(e));
      }
    };
    const item = make("li", "", card);
    list.append(item);
    return { card, item, show, words: `${o.title} ${o.layer} ${o.name}`.toLowerCase() };
  });
  filter.input.addEventListener("input", () => {
    for (const c of cards) c.item.hidden = !c.words.includes(filter.input.value.trim().toLowerCase());
  });
  filter.box.hidden = cards.length < 8;
  const key = looked.key_env === "" ? [] : [make("p", "", say("under.key_kept", { variable: looked.key_env }))];
  dialog.body.replaceChildren(make("div", "form", make("p", "", say("under.choose_layer")), ...key, filter.box), list);
  dialog.foot.replaceChildren(go);
  const only = cards.length === 1 ? cards[0] : undefined;
  if (only !== undefined) only.card.click();
  else void (async () => { for (const c of cards.slice(0, lookedAt)) if (!stop.signal.aborted) await c.show(); })();
}

function kindText(o: Offer): string {
  return o.zooms === null ? o.kind : say("under.kind_zooms", { kind: o.kind, min: o.zooms[0], max: o.zooms[1] });
}

/** The person's own statements: nothing is filled in but what the service says of itself. */
function stateTerms(desk: Desk, dialog: Dialog, looked: Looked, n: number, done: (name: string) => void): void {
  const offer = looked.offers[n];
  if (offer === undefined) return;
  const name = field(say("under.name"));
  const credit = field(say("under.credit"), say("under.credit_help"));
  const captured = field(say("under.captured"), say("under.captured_help"));
  name.input.value = offer.name;
  credit.input.value = offer.attribution;
  const terms = termsForm(offer.file !== "");
  const bad = make("p", "bad");
  bad.setAttribute("role", "alert");
  const form = make("form", "form", name.box, credit.box, captured.box, make("p", "", say("under.terms_ask")), terms.box, bad);
  const add = submits(form, say("under.write"));
  form.addEventListener("submit", (e) => {
    e.preventDefault();
    add.disabled = true;
    terms.mark("", "");
    setText(bad, "");
    void desk.api.post<{ name: string; file: string }>("/api/sources", {
      look: looked.look, offer: n, job: desk.job?.id ?? "", name: name.input.value, attribution: credit.input.value, captured: captured.input.value, terms: terms.answers(),
    }).then((added) => {
      desk.tell(say("under.written", { name: added.name, file: added.file }));
      done(added.name);
    }, (e: unknown) => {
      const where = e instanceof Refused ? e.problem.where : "";
      if (!terms.mark(where, errorMessage(e))) setText(bad, errorMessage(e));
    }).finally(() => { add.disabled = false; });
  });
  dialog.body.replaceChildren(form);
  dialog.foot.replaceChildren(add);
  (name as Field).input.focus();
}
