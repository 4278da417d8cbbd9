// The color of the browser's own bars, which is that of the page's uppermost line.

const unpainted = /^rgba\(.*, 0\)$/;

/** Gives the browser's bars the color of `top`, also when its tone or the theme changes. */
export function followColor(top: HTMLElement): void {
  const root = document.documentElement;
  const frame = document.querySelector("meta[name=theme-color]");
  const follow = () => {
    const own = getComputedStyle(top).backgroundColor;
    frame?.setAttribute("content", unpainted.test(own) ? getComputedStyle(root).backgroundColor : own);
  };
  const watch = new MutationObserver(follow);
  watch.observe(top, { attributeFilter: ["data-tone"] });
  watch.observe(root, { attributeFilter: ["data-theme"] });
  follow();
}
