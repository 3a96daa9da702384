// A module of the page that needs no browser. It is read as text: outside the daemon nothing serves /page.
import { readFile } from "node:fs/promises";

export async function page_module(name) {
  const text = await readFile(new URL(`../../rig/service/page/${name}`, import.meta.url), "utf8");
  return import(`data:text/javascript;charset=utf-8,${encodeURIComponent(text)}`);
}
