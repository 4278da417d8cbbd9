// What WebDriver and WebDriver BiDi have in common: gestures as lists of actions (W3C WebDriver, "Actions").

/** The code points of keys without a character (W3C WebDriver, "Keyboard actions"). */
const keys = { Enter: "\uE007", Escape: "\uE00C", Tab: "\uE004", Backspace: "\uE003", ArrowLeft: "\uE012", ArrowUp: "\uE013", ArrowRight: "\uE014", ArrowDown: "\uE015" };

const move = ([x, y], duration = 0) => ({ type: "pointerMove", x: Math.round(x), y: Math.round(y), duration });
const down = { type: "pointerDown", button: 0 };
const up = { type: "pointerUp", button: 0 };
const pointer = (...actions) => [{ type: "pointer", id: "pointer", parameters: { pointerType: "mouse" }, actions }];
const halfway = ([x, y], [u, v]) => [(x + u) / 2, (y + v) / 2];

export const gestures = {
  tap: (at) => pointer(move(at), down, { type: "pause", duration: 30 }, up),
  drag: (from, to) => pointer(move(from), down, move(halfway(from, to), 80), move(to, 80), { type: "pause", duration: 60 }, up),
  keys: (all) => [{ type: "key", id: "keys", actions: all.flatMap((k) => ["keyDown", "keyUp"].map((type) => ({ type, value: keys[k] ?? k }))) }],
};
