// Style sheets are bundled by the build and give the script nothing.
declare module "*.css";

// The texts of a bundle that is loaded later (bundle.mjs).
declare module "*words.json?later" {
  const texts: Record<string, Record<string, string>>;
  export default texts;
}
