// The position beside the zoom buttons, whether the map follows it, and the way back to the job.
import { byId, make, makeButton, setAttribute, setHidden, setText, svg } from "../../shared/lib/dom";
import { distanceText, type Units } from "../../shared/lib/units";
import { say } from "../../shared/lib/words";
import { barText } from "./bartext";
import type { PositionState } from "./fix";
import type { Choice } from "./sheet";
import type { WayBack } from "./wayback";
import "./here.css";

type ShowHere = (choice: Choice, here: PositionState, back: WayBack | null, following: boolean, units: Units, now: number) => void;

/** Makes the buttons and the line of the way back; returns the function that updates them. */
export function makeHere(toggle: (button: HTMLElement) => void, toggleFollow: () => void): ShowHere {
  const head = make("b", "");
  const rest = make("span", "");
  const open: HTMLElement = Object.assign(makeButton([head, " ", rest], () => toggle(open)), { id: "position-open" });
  const follow = Object.assign(makeButton([say("position.follow")], toggleFollow), { id: "position-follow" });
  const arrow = svg("svg", { viewBox: "0 0 40 40", "aria-hidden": "true" }, svg("path", { d: "M20 3 L33 34 L20 27 L7 34 Z" }));
  const backWords = make("span", "");
  const backLine = make("p", "", arrow, backWords);
  backLine.id = "position-back";
  const aloud = make("p", "unseen");
  aloud.id = "position-aloud";
  aloud.setAttribute("role", "status");
  const box = byId("here");
  const floats = byId("floats");
  box.append(open, follow);
  byId("toast").before(backLine, aloud);
  return (choice, here, back, following, units, now) => {
    const text = barText(choice, here, units, now);
    setAttribute(box, "data-state", text.state);
    setAttribute(floats, "data-position", choice === "off" ? "off" : "on");
    setText(head, text.head);
    setText(rest, text.rest);
    setHidden(follow, here.fix === null);
    setAttribute(follow, "aria-pressed", String(following));
    setText(follow, following ? say("position.following") : say("position.follow"));
    setHidden(backLine, back === null);
    const turn = `rotate(${Math.round(back?.bearing ?? 0)}deg)`;
    if (arrow.style.transform !== turn) arrow.style.transform = turn;
    setText(backWords, back === null ? "" : backText(here, back, following, units));
    // Aloud only what rarely changes: no age, no distance.
    setText(aloud, [text.aloud, back === null ? "" : say("position.back_aloud", { off: offText(here, back), direction: back.direction })].join(" ").trim());
  };
}

function backText(here: PositionState, back: WayBack, following: boolean, units: Units): string {
  const [off, far] = [offText(here, back), distanceText(back.metres, units)];
  return following ? say("position.back_still", { off, far, direction: back.direction }) : say("position.back", { off, far, direction: back.direction });
}

// If the circle reaches the ground of the job, the user may be on it.
function offText({ fix }: PositionState, back: WayBack): string {
  return fix !== null && fix.error >= back.metres ? say("position.perhaps_off_job") : say("position.off_job");
}
