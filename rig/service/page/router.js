// Views by the address's fragment: #/runs/12, #/trends?reading=3&unit=7. Back, forward and reload keep them.

/** {name, rest, query} of a fragment. */
export function read_route(hash) {
  const [path, tail = ""] = hash.replace(/^#\/?/, "").split("?");
  const [name = "", ...rest] = path.split("/").map((p) => { try { return decodeURIComponent(p); } catch { return p; } });
  return { name: name || "bench", rest, query: Object.fromEntries(new URLSearchParams(tail)) };
}

/** The fragment of a route; empty values of the query are left out. */
export function route(parts, query = {}) {
  const kept = Object.entries(query).filter(([, v]) => v !== "" && v !== null && v !== undefined);
  const tail = kept.length ? `?${new URLSearchParams(kept)}` : "";
  return `#/${parts.map(encodeURIComponent).join("/")}${tail}`;
}
