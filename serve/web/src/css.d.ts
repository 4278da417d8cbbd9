// Style sheets are bundled by the build and give the script nothing.
declare module "*.css";
